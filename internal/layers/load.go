package layers

import (
	"context"

	"github.com/google/uuid"

	"meniscus/internal/edtf"
	"meniscus/internal/ledger"
	"meniscus/internal/material"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
	"meniscus/internal/shelf"
	"meniscus/internal/stack"
	"meniscus/internal/statement"
)

// Config makes a specimen's history ready for package stack. Where the context has
// ended it is cut short, and stack.New gives the context's error.
func Config(ctx context.Context, specimen uuid.UUID, h postgres.History, base *material.Base, at edtf.Day) stack.Config {
	c := stack.Config{Context: ctx, Knowledge: base, At: at}
	c.Specimen = Specimen(specimen.String(), &record.Specimen{})
	if len(h.Specimen) > 0 {
		if said, ok := read[*record.Specimen](h.Specimen[0].Kind, h.Specimen[0].Body); ok {
			c.Specimen = Specimen(specimen.String(), said)
		}
	}
	on := shelf.Read(base, h.Shelf)
	for _, row := range h.Treatments {
		if ctx.Err() != nil {
			break
		}
		if t, inForce := treatmentOf(row, specimen, h.Borrowed, on); inForce {
			c.Treatments = append(c.Treatments, t)
		}
	}
	return c
}

// read reads a statement; ok is false where its words are gone or cannot be read.
func read[T record.Value](kind record.Kind, body *string) (value T, ok bool) {
	reading, err := statement.OfEntry(kind, body)
	if err != nil {
		return value, false
	}
	value, ok = reading.Value.(T)
	return value, ok
}

// treatmentOf reads one row; inForce tells whether it is, and on the
// specimen. One whose words were redacted, or cannot be read any more, is a
// treatment of which nothing is known.
func treatmentOf(row postgres.Row, specimen uuid.UUID, borrowed map[uuid.UUID]postgres.Borrowed, on *shelf.Shelf) (t stack.Treatment, inForce bool) {
	if row.Act == ledger.Retracted {
		return t, false
	}
	said, ok := read[*record.Treatment](row.Kind, row.Body)
	if !ok {
		return stack.Treatment{ID: row.Record.String(), Action: stack.OtherAction, AreasUnknown: true}, true
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
		t.Specimen = specimen.String() // the two records are one specimen
	}
	if row.Place != nil {
		t.Place = *row.Place
	}
	return t, true
}

func concerns(t *record.Treatment, specimen uuid.UUID) bool {
	return t.Specimen == specimen || t.JoinedTo == specimen
}
