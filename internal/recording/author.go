package recording

import (
	"context"
	"fmt"

	"github.com/google/uuid"

	"meniscus/internal/access"
	"meniscus/internal/edtf"
	"meniscus/internal/fault"
	"meniscus/internal/material"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
	"meniscus/internal/statement"
)

// Author is the person who records by a request, with the tenant.
type Author struct {
	Store     postgres.Tenant
	Principal *access.Principal
	RequestID uuid.UUID
	// Materials gives the materials that the author's institution knows.
	Materials func(context.Context) (*material.Base, error)
}

// Write is the author's request to store entries.
func (a Author) Write(key *postgres.RequestKey, entries ...postgres.Entry) postgres.Write {
	return postgres.Write{Person: a.Principal.Person, RequestID: a.RequestID, Key: key, Entries: entries}
}

// Draft is a statement that was read and validated, ready to be stored.
type Draft struct {
	Words   []byte // with names of people and numbers of specimens replaced by ids
	Value   record.Value
	Implied []postgres.Entry // records that it implies, such as a person by name
	Numbers []NewNumber      // numbers under which it registers specimens
	reading *statement.Reading
}

// Project brings the projections in line with the statement.
func (d Draft) Project(p *postgres.Projector) { p.Project(d.Value) }

// Understand reads a new statement of the existing record self, which is to be
// recorded. Its faults point into the statement.
func (a Author) Understand(ctx context.Context, kind record.Kind, self uuid.UUID, words []byte) (Draft, error) {
	return a.mayImply(a.Propose(ctx, kind, self, words))
}

// UnderstandFirst is Understand of the statement that makes a record. It looks up a
// specimen's numbers; the caller gives the specimens that it is distinct from.
func (a Author) UnderstandFirst(
	ctx context.Context, kind record.Kind, self uuid.UUID, words []byte, distinctFrom []uuid.UUID,
) (Draft, error) {
	return a.mayImply(a.propose(ctx, kind, self, words, func(value record.Value) []NewNumber {
		if s, ok := value.(*record.Specimen); ok {
			return numbersOf(self, s, distinctFrom)
		}
		return nil
	}))
}

func (a Author) mayImply(d Draft, err error) (Draft, error) {
	if err == nil {
		err = a.MayImply(d.Implied, d.reading)[0].Err()
	}
	return d, err
}

// Propose reads a new statement that is not to be recorded, or not yet.
func (a Author) Propose(ctx context.Context, kind record.Kind, self uuid.UUID, words []byte) (Draft, error) {
	return a.propose(ctx, kind, self, words, func(record.Value) []NewNumber { return nil })
}

func (a Author) propose(
	ctx context.Context, kind record.Kind, self uuid.UUID, words []byte, own func(record.Value) []NewNumber,
) (Draft, error) {
	words, err := a.InMonths(ctx, words)
	if err != nil {
		return Draft{}, err
	}
	reading, err := statement.Read(kind, words)
	if err != nil {
		return Draft{}, err
	}
	if err := a.mayState(ctx, self, reading.Value); err != nil {
		return Draft{}, err
	}
	base, err := a.Materials(ctx)
	if err != nil {
		return Draft{}, err
	}
	faults, err := reading.Check(self, base)
	if err != nil {
		return Draft{}, err
	}
	resolved, err := resolve(ctx, a.Store, []*statement.Reading{reading}, own(reading.Value)...)
	if err != nil {
		return Draft{}, err
	}
	if err := append(faults, resolved.Faults[0]...).Err(); err != nil {
		return Draft{}, err
	}
	words, err = reading.Words(words)
	return Draft{Words: words, Value: reading.Value, Implied: resolved.Implied, Numbers: resolved.Numbers[0],
		reading: reading}, err
}

// InMonths is words with their seasons as months, where the institution states whose seasons it
// means. A season may else be that of either half of the earth.
func (a Author) InMonths(ctx context.Context, words []byte) ([]byte, error) {
	return inMonths(words, func() (*string, error) { return a.seasons(ctx) })
}

// seasons is the half of the earth whose seasons the institution means; nil if it does not say.
func (a Author) seasons(ctx context.Context) (*string, error) {
	of, err := a.Store.Institution(ctx)
	return of.Seasons, err
}

func inMonths(words []byte, seasons func() (*string, error)) ([]byte, error) {
	if !statement.NamesSeason(words) {
		return words, nil
	}
	of, err := seasons()
	if err != nil || of == nil {
		return words, err
	}
	return statement.InMonths(words, edtf.Hemisphere(*of)), nil
}

// mayState checks what the record and the key allow to be stated. Without the scope to
// authorise, everything can be recorded but a plan's authorisation: amending an
// authorised plan therefore needs the scope again.
func (a Author) mayState(ctx context.Context, self uuid.UUID, value record.Value) error {
	switch v := value.(type) {
	case *record.Specimen:
		return checkOrigin(ctx, a.Store, self, v)
	case *record.Plan:
		if (v.Authorisation.Given || v.Treatment.Authorisation.Given) && !a.Principal.May(access.Authorise) {
			return fault.Of(fault.Forbidden, "scope-missing",
				"Authorising a plan needs a key with the scope %q; leave the authorisation out, "+
					"and let a person who may authorise it.", string(access.Authorise))
		}
	}
	return nil
}

// ScopeOf is the scope that recording a kind needs.
var ScopeOf = map[record.Kind]access.Scope{
	record.KindPerson:       access.Record,
	record.KindSpecimen:     access.Record,
	record.KindTreatment:    access.Record,
	record.KindPlan:         access.Record,
	record.KindSupply:       access.Stock,
	record.KindBatch:        access.Stock,
	record.KindAmountChange: access.Stock,
	record.KindMaterial:     access.Stock,
}

// MayImply refuses implied records whose scope the author lacks: a new name would
// record a person, which needs its own scope.
func (a Author) MayImply(implied []postgres.Entry, readings ...*statement.Reading) []fault.List {
	faults := make([]fault.List, len(readings))
	for _, e := range implied {
		scope := ScopeOf[e.Kind]
		if a.Principal.May(scope) {
			continue
		}
		for i, r := range readings {
			if pointer, named := r.Where(e.Record); named {
				faults[i] = append(faults[i], &fault.Fault{Kind: fault.Forbidden, Code: "scope-missing", Pointer: pointer,
					Detail: fmt.Sprintf("This is new here, and recording it needs a key with the scope %q; "+
						"name a %s that is recorded, or have it recorded first.", string(scope), string(e.Kind))})
				break
			}
		}
	}
	return faults
}
