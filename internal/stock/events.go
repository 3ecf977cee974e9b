package stock

import (
	"math"

	"meniscus/internal/edtf"
	"meniscus/internal/record"
)

// enter adds to each batch the records that changed its amount.
func (k *Book) enter(on Records) {
	for _, e := range on.Changes {
		k.amountChange(e)
	}
	for _, e := range on.Taken {
		for _, input := range e.Said.Inputs.Value {
			if input.Batch != (record.Ref{}) {
				k.add(input.Batch, event(e, Decanted, e.Said.Made, input.Amount))
			}
		}
	}
	for _, e := range on.Treatments {
		k.used(e.Said, event(e, Used, e.Said.Date, record.Amount{}))
	}
}

func (k *Book) used(t *record.Treatment, e Event) {
	for _, use := range t.Uses.Value {
		if use.Batch != (record.Ref{}) {
			e.Amount = amount(use.Amount)
			k.add(use.Batch, e)
		}
	}
}

// Propose puts a treatment beside what is on record, as if it were used now: after
// everything else of its day, and on the day that is given where it has no date.
func (k *Book) Propose(id string, t *record.Treatment, day edtf.Day) {
	e := Event{ID: id, Kind: Used, Date: t.Date.Value, Sequence: math.MaxInt64}
	if e.Date.IsZero() {
		e.Date = edtf.MustParse(day.String())
	}
	k.used(t, e)
	k.reckoned, k.strong = nil, nil
}

func (k *Book) add(batch record.Ref, e Event) {
	if made, ok := k.made[batch.String()]; ok {
		made.Events = append(made.Events, e)
		k.made[batch.String()] = made
	}
}

func event[T record.Value](e Entry[T], kind Kind, date record.Date, measured record.Amount) Event {
	return Event{ID: e.ID.String(), Kind: kind, Date: date.Value, Sequence: e.Sequence, Amount: amount(measured)}
}

// amountChange enters an entry about a batch. A top-up from another batch also takes from that batch.
func (k *Book) amountChange(entry Entry[*record.AmountChange]) {
	c := entry.Said
	e := event(entry, Kind(c.Type), c.Date, c.Amount)
	e.DippedBrush = c.DippedBrush
	if e.Kind == ToppedUp && c.With != nil {
		with := k.ingredient(record.Input{Used: *c.With})
		e.With, k.with[e.ID] = &with, *c.With
		if c.With.Batch != (record.Ref{}) {
			k.add(c.With.Batch, event(entry, Decanted, c.Date, c.Amount))
		}
	}
	k.add(c.Batch, e)
}
