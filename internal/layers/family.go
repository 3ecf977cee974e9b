package layers

import (
	"cmp"
	"errors"
	"log/slog"

	"github.com/google/uuid"

	"meniscus/internal/ledger"
	"meniscus/internal/material"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
	"meniscus/internal/stack"
	"meniscus/internal/statement"
)

// SpecimenOf is a specimen as every view takes it: what its own record says; what the
// records merged into it and those that it came from say of its hazards; and the hazards
// that words on record make suspected.
func SpecimenOf(
	id uuid.UUID, own []postgres.Row, family []postgres.Kin, clues []postgres.Clue, known *material.Base,
) stack.Specimen {
	return specimenOf(id, own, family, clues, known, readings{})
}

func specimenOf(
	id uuid.UUID, own []postgres.Row, family []postgres.Kin, clues []postgres.Clue, known *material.Base, read readings,
) stack.Specimen {
	var unread unreadable
	said := &record.Specimen{}
	if len(own) > 0 {
		if s, ok := readInto[*record.Specimen](&unread, own[0]); ok {
			said = s
		}
	}
	out, all := Specimen(id.String(), said), []*record.Specimen{said}
	for _, row := range own {
		withhold(&out, row)
	}
	for _, kin := range family {
		if kin.Act == ledger.Retracted {
			continue
		}
		withhold(&out, kin.Row)
		s, ok := readInto[*record.Specimen](&unread, kin.Row)
		if !ok {
			continue
		}
		all = append(all, s)
		if out.PassedOn == nil && kin.Because == "merged" {
			out.PassedOn = PassedOn(s)
		}
	}
	var hazards []stack.Hazard
	for _, s := range all {
		hazards = append(hazards, stated(known, s)...)
	}
	out.Hazards, out.Unread = stack.GravestHazards(hazards, suspected(known, all, clues, read)), unread.list
	return out
}

// withhold counts a row that is withheld.
func withhold(of *stack.Specimen, row postgres.Row) {
	if row.Withheld() {
		of.Withheld++
	}
}

// PassedOn is where a specimen went, as its record says; nil where it is here.
func PassedOn(from *record.Specimen) *stack.PassedOn {
	p := from.PassedOn
	if p == nil {
		return nil
	}
	return &stack.PassedOn{To: p.To, Date: cmp.Or(p.Date.Value.String(), string(p.Date.Answer), "unknown")}
}

// unreadable collects the records whose words are stored but cannot be read.
type unreadable struct {
	list []stack.Unread
	seen map[uuid.UUID]bool
}

func (u *unreadable) add(kind record.Kind, id uuid.UUID) {
	if u.seen == nil {
		u.seen = map[uuid.UUID]bool{}
	}
	if !u.seen[id] {
		u.seen[id] = true
		u.list = append(u.list, stack.Unread{Kind: string(kind), ID: id.String()})
	}
}

// LogUnread logs which records about a specimen cannot be read.
func LogUnread(log *slog.Logger, institution uuid.UUID, of *stack.Specimen) {
	for _, u := range of.Unread {
		log.Error("the words of a record cannot be read", slog.String("institution", institution.String()),
			slog.String("kind", u.Kind),
			slog.String("record", u.ID), slog.String("specimen", of.ID))
	}
}

// readings are treatments that were read, by where their words are: those that tell of a hazard are in a history
// twice, with the same words.
type readings map[*string]*record.Treatment

// treatment is readInto, once.
func (r readings) treatment(u *unreadable, row postgres.Row) (t *record.Treatment, ok bool) {
	if t = r[row.Body]; t != nil {
		return t, true
	}
	if t, ok = readInto[*record.Treatment](u, row); ok {
		r[row.Body] = t
	}
	return t, ok
}

// readInto reads a row's statement, and adds the row to u if it cannot be read.
func readInto[T record.Value](u *unreadable, row postgres.Row) (value T, ok bool) {
	value, err := read[T](row.Kind, row.Body)
	if err != nil && !errors.Is(err, statement.ErrRedacted) {
		u.add(row.Kind, row.Record)
	}
	return value, err == nil
}
