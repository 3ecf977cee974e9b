package recording

import (
	"errors"
	"math"

	"meniscus/internal/material"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
	"meniscus/internal/statement"
	"meniscus/internal/stock"
)

// Unread is a record whose words are stored but cannot be read.
type Unread struct {
	postgres.Row
	Err error
}

// Book reads a shelf into a stock book. Unreadable records, like redacted ones, add
// nothing to the book.
func Book(base *material.Base, rows postgres.Shelf) (book *stock.Book, unread []Unread) {
	on := stock.Records{Supplies: map[record.Ref]*record.Supply{}, Batches: map[record.Ref]*record.Batch{},
		More: rows.MoreMade, MoreEntries: rows.MoreEntries}
	for _, row := range rows.Made {
		switch row.Kind {
		case record.KindSupply:
			on.Supplies[row.Record] = new(record.Supply)
			if s, said := read[*record.Supply](row, &unread); said {
				on.Supplies[row.Record] = s
			}
		case record.KindBatch:
			on.Batches[row.Record] = new(record.Batch)
			if b, said := read[*record.Batch](row, &unread); said {
				on.Batches[row.Record] = b
			}
		}
	}
	on.Changes = entries[*record.AmountChange](rows.Changes, &unread)
	on.Taken = entries[*record.Batch](rows.Taken, &unread)
	on.Treatments = entries[*record.Treatment](rows.Treatments, &unread)
	return stock.NewBook(base, on), unread
}

// entries reads rows of one kind, without the redacted and unreadable ones.
func entries[T record.Value](rows []postgres.Row, unread *[]Unread) []stock.Entry[T] {
	var out []stock.Entry[T]
	for _, row := range rows {
		value, said := read[T](row, unread)
		if !said {
			continue
		}
		// An entry without a sequence number yet comes after all others.
		entry := stock.Entry[T]{ID: row.Record, Sequence: math.MaxInt64, Said: value}
		if row.Sequence != nil {
			entry.Sequence = *row.Sequence
		}
		out = append(out, entry)
	}
	return out
}

// read reads a row's statement; said is false where its words were redacted, or cannot
// be read; the latter are added to unread.
func read[T record.Value](row postgres.Row, unread *[]Unread) (value T, said bool) {
	reading, err := statement.OfEntry(row.Kind, row.Body)
	if err == nil {
		value, said = reading.Value.(T)
	} else if !errors.Is(err, statement.ErrRedacted) {
		*unread = append(*unread, Unread{row, err})
	}
	return value, said
}
