package recording_test

import (
	"testing"

	"github.com/google/uuid"

	"meniscus/internal/material"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
	"meniscus/internal/recording"
	"meniscus/internal/stock"
)

// row is a record's entry; its words are redacted if words is "".
func row(kind record.Kind, id byte, sequence int64, words string) postgres.Row {
	r := postgres.Row{Kind: kind, Record: uuid.UUID{id}}
	if sequence > 0 {
		r.Sequence = &sequence
	}
	if words != "" {
		body := `{"statement":` + words + `}`
		r.Body = &body
	}
	return r
}

// TestBook: a record is in the book with its sequence number; redacted and unreadable
// words add nothing, and unreadable ones are reported.
func TestBook(t *testing.T) {
	t.Parallel()
	const (
		supply, blank, torn, jar, bottle    = 1, 2, 3, 4, 5
		gone, late, brush, tornUse, goneUse = 6, 7, 8, 9, 10
	)
	jarID := uuid.UUID{jar}.String()
	made := `{"code":"J","kind":"solution","finished":{"quantity":{"value":100,"unit":"mL"}},"inputs":[
		{"from":{"supply":{"id":"` + uuid.UUID{supply}.String() + `"}},"part":"solvent","amount":{"quantity":{"value":80,"unit":"mL"}}}]}`
	filled := `{"code":"b","kind":"bottle","inputs":[{"from":{"batch":{"id":"` + jarID +
		`"}},"part":"stock","amount":{"quantity":{"value":30,"unit":"mL"}}}]}`
	thrown := `{"batch":{"id":"` + jarID + `"},"kind":"discarded","amount":{"quantity":{"value":10,"unit":"mL"}}}`
	used := `{"specimen":{},"action":"coating","areas":{"answer":"unknown"},"dates":{"answer":"unknown"},
		"materials":[{"used":{"batch":{"id":"` + jarID + `"}},"amount":{"quantity":{"value":5,"unit":"mL"}}}]}`
	book, unread := recording.Book(material.Builtin(), postgres.Shelf{
		Made: []postgres.Row{
			row(record.KindSupply, supply, 1, `{"code":"A","material":{"id":"acetone"}}`), row(record.KindSupply, blank, 2, ""),
			row(record.KindBatch, torn, 3, `{"code":7}`), row(record.KindBatch, jar, 4, made),
			row(record.KindBatch, bottle, 5, filled),
		},
		Changes: []postgres.Row{row(record.KindAmountChange, gone, 6, ""), row(record.KindAmountChange, late, 0, thrown)},
		Taken:   []postgres.Row{row(record.KindBatch, bottle, 5, filled)},
		Treatments: []postgres.Row{row(record.KindTreatment, brush, 8, used), row(record.KindTreatment, tornUse, 9, `[]`),
			row(record.KindTreatment, goneUse, 10, "")},
		MoreMade: 3, MoreEntries: 0,
	})
	var torns []uuid.UUID
	for _, r := range unread {
		torns = append(torns, r.Record)
	}
	if len(torns) != 2 || torns[0] != (uuid.UUID{torn}) || torns[1] != (uuid.UUID{tornUse}) {
		t.Errorf("got %v unread, want the torn batch and the torn treatment", torns)
	}
	if book.More != 3 || book.Supplies[uuid.UUID{supply}].Material != "acetone" ||
		*book.Supplies[uuid.UUID{blank}] != (record.Supply{}) || book.Batches[uuid.UUID{torn}].Code != "" {
		t.Errorf("got %+v, want blanks where nothing is said", book.Records)
	}
	if len(book.Changes) != 1 || book.Changes[0].Sequence <= 10 || len(book.Treatments) != 1 ||
		book.Treatments[0].Sequence != 8 {
		t.Errorf("got %+v and %+v, want sequence numbers, and one without a sequence number after all others", book.Changes, book.Treatments)
	}
	now := book.Shelf().Account(jarID)
	if now.Knowledge != stock.Known || now.Remaining.Value != 100-30-10-5 || len(now.Steps) != 3 {
		t.Errorf("got %+v, want 55 mL after three entries", now)
	}
}
