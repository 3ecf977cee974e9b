package recording

import (
	"context"

	"github.com/google/uuid"

	"meniscus/internal/edtf"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
	"meniscus/internal/statement"
)

// A Saying is a statement that is being recorded, with its record.
type Saying struct {
	Self    uuid.UUID // its record
	Value   record.Value
	Words   []byte
	Numbers []NewNumber
}

// Odd gives findings about what is odd in each of the statements and can be checked
// without layers, in one round trip.
func (a Author) Odd(ctx context.Context, today edtf.Day, said ...Saying) ([][]record.Finding, error) {
	found, err := a.Store.Beside(ctx, Asks(said...))
	if err != nil {
		return nil, err
	}
	return OddIn(found, today, said...), nil
}

// Asks is what has to be looked up to find what is odd in statements.
func Asks(said ...Saying) postgres.Question {
	q, fresh := postgres.Question{}, map[uuid.UUID]bool{}
	for i, s := range said {
		supplies, batches, specimens := record.NamedBy(s.Value)
		q.Records = append(append(q.Records, supplies...), batches...)
		for _, n := range s.Numbers {
			fresh[n.Specimen] = true // it is being registered
			if !n.looked {
				q.Numbers = append(q.Numbers, n.among())
			}
		}
		q.Specimens = append(q.Specimens, specimens...)
		if t := treatmentOf(s); t != nil && !fresh[t.Specimen] {
			q.Twins = append(q.Twins, postgres.Twin{Nth: i, Record: s.Self, Specimen: t.Specimen, Said: t, Words: s.Words})
		}
	}
	return q
}

// OddIn is Odd with what was found of what it Asks.
func OddIn(found postgres.Beside, today edtf.Day, said ...Saying) [][]record.Finding {
	known := knownFrom(found, today)
	out := make([][]record.Finding, len(said))
	for i, s := range said {
		on := known
		on.Twins = found.Twins[i]
		for _, n := range s.Numbers {
			near := n.near
			if !n.looked {
				near = found.Near[n.among()]
			}
			out[i] = append(out[i], n.resembling(near)...)
		}
		out[i] = append(out[i], record.Odd(s.Value, on)...)
	}
	return out
}

// treatmentOf is the treatment that may be on record already: one that is stated, or one that
// is checked with its words. A plan may say what was done before.
func treatmentOf(s Saying) *record.Treatment {
	switch v := s.Value.(type) {
	case *record.Treatment:
		return v
	case *record.Plan:
		if s.Self == uuid.Nil && s.Words != nil {
			return &v.Treatment
		}
	}
	return nil
}

// knownFrom reads what was found. Redacted or unreadable words add nothing.
func knownFrom(found postgres.Beside, today edtf.Day) record.Known {
	known := record.Known{Today: today, Supplies: map[record.Ref]*record.Supply{}, Batches: map[record.Ref]*record.Batch{},
		Specimens: map[record.Ref]*record.Specimen{}}
	for _, row := range found.Rows {
		reading, err := statement.OfEntry(row.Kind, row.Body)
		if err != nil {
			continue
		}
		switch v := reading.Value.(type) {
		case *record.Supply:
			known.Supplies[row.Record] = v
		case *record.Batch:
			known.Batches[row.Record] = v
		case *record.Specimen:
			known.Specimens[row.Record] = v
		}
	}
	for merged, survivor := range found.StandFor {
		known.Specimens[merged] = known.Specimens[survivor]
	}
	return known
}
