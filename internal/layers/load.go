package layers

import (
	"context"
	"fmt"

	"github.com/google/uuid"

	"meniscus/internal/edtf"
	"meniscus/internal/ledger"
	"meniscus/internal/material"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
	"meniscus/internal/recording"
	"meniscus/internal/stack"
	"meniscus/internal/statement"
	"meniscus/internal/stock"
)

// Config prepares a specimen's history for package stack. If the context has ended, the
// history is incomplete, and stack.New gives the context's error.
func Config(
	ctx context.Context, specimen uuid.UUID, h postgres.History, base *material.Base, at edtf.Day,
) stack.Config {
	read := readings{}
	c := stack.Config{Context: ctx, Knowledge: base, At: at, Specimen: bodyOf(specimen, h, base, read)}
	var unread unreadable
	c.Treatments = make([]stack.Treatment, 0, len(h.Treatments))
	on, unreadStock := recording.Book(base, h.Shelf)
	for _, row := range h.Treatments {
		if ctx.Err() != nil {
			break
		}
		if t, inForce := treatmentOf(row, specimen, h.Borrowed, on, read, &unread); inForce {
			withhold(&c.Specimen, row)
			c.Treatments = append(c.Treatments, t)
		}
	}
	for _, row := range unreadStock {
		unread.add(row.Kind, row.Record)
	}
	c.Specimen.Unread = append(c.Specimen.Unread, unread.list...)
	return c
}

// read reads a statement. The error is statement.ErrRedacted where its words were
// redacted, and another one where they cannot be read.
func read[T record.Value](kind record.Kind, body *string) (value T, err error) {
	reading, err := statement.OfEntry(kind, body)
	if err != nil {
		return value, err
	}
	value, ok := reading.Value.(T)
	if !ok {
		return value, fmt.Errorf("a statement of kind %s is a %T", kind, reading.Value)
	}
	return value, nil
}

// treatmentOf reads one row; inForce tells whether the treatment is in force and on the
// specimen. One whose words were redacted or cannot be read is a treatment with
// everything unknown; one that cannot be read is added to unread.
func treatmentOf(
	row postgres.Row, specimen uuid.UUID, borrowed map[uuid.UUID]postgres.Borrowed, on *stock.Book, read readings,
	unread *unreadable,
) (t stack.Treatment, inForce bool) {
	if row.Act == ledger.Retracted {
		return t, false
	}
	said, ok := read.treatment(unread, row)
	if !ok {
		return stack.Treatment{ID: row.Record.String(), Action: stack.OtherAction, AreasUnknown: true,
			Withheld: row.Withheld()}, true
	}
	from, isBorrowed := borrowed[row.Record]
	if !isBorrowed && !concerns(said, specimen) {
		return t, false
	}
	if said.Areas.Given && len(from.Within) > 0 {
		said.Areas.Value = record.AreasWithin(said.Areas.Value, from.Within)
	}
	t = Treatment(row.Record.String(), said, on)
	if from.Because == "merged" {
		t.Specimen = specimen.String() // the two records were merged
	}
	if row.Sequence != nil {
		t.Sequence = *row.Sequence
	}
	return t, true
}

func concerns(t *record.Treatment, specimen uuid.UUID) bool {
	return t.Specimen == specimen || t.JoinedTo == specimen
}
