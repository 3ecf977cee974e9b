package shelf

import (
	"math"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/edtf"
	"meniscus/internal/postgres"
	"meniscus/internal/stock"
	"meniscus/internal/values"
)

// events puts everything on record that changed the amounts of the batches
// beside them.
func (h *Shelf) events(rows postgres.Shelf) {
	for _, row := range rows.Changes {
		h.amountChange(row)
	}
	for _, row := range rows.Taken {
		var st api.BatchStatement
		values.Statement(row.Body, &st) // words that are gone took nothing
		for _, input := range deref(st.Inputs) {
			if input.From.Batch != nil {
				h.add(input.From.Batch.Id, eventOf(row, stock.Decanted, st.Made, &input.Amount))
			}
		}
	}
	for _, row := range rows.Treatments {
		var st api.TreatmentStatement
		values.Statement(row.Body, &st) // words that are gone used nothing
		h.used(&st, eventOf(row, stock.Used, &st.Dates, nil))
	}
}

func (h *Shelf) used(st *api.TreatmentStatement, e stock.Event) {
	for _, use := range deref(st.Materials) {
		if use.Used.Batch != nil {
			e.Amount = amount(use.Amount)
			h.add(use.Used.Batch.Id, e)
		}
	}
}

// Propose puts a treatment beside what is on record, as if it were used now: after
// everything else of its day, and on the day that is given where it has no date.
func (h *Shelf) Propose(id string, st *api.TreatmentStatement, day edtf.Day) {
	e := stock.Event{ID: id, Kind: stock.Used, Date: values.Date(&st.Dates), Place: math.MaxInt64}
	if e.Date.IsZero() {
		e.Date = edtf.MustParse(day.String())
	}
	h.used(st, e)
	h.reckoned, h.strong = nil, nil
}

func (h *Shelf) add(batch uuid.UUID, e stock.Event) {
	if made, ok := h.made[batch.String()]; ok {
		made.Events = append(made.Events, e)
		h.made[batch.String()] = made
	}
}

func eventOf(row postgres.Row, kind stock.Kind, date *api.AnswerableDate, measured *api.AnswerableQuantity) stock.Event {
	return stock.Event{ID: row.Record.String(), Kind: kind, Date: values.Date(date), Place: placeOf(row), Amount: amount(measured)}
}

// placeOf is a row's place; one that has none yet comes after all that have.
func placeOf(row postgres.Row) int64 {
	if row.Place == nil {
		return math.MaxInt64
	}
	return *row.Place
}

// amountChange is an entry about a batch; a top-up from another batch left that.
func (h *Shelf) amountChange(row postgres.Row) {
	var st api.AmountChangeStatement
	values.Statement(row.Body, &st) // words that are gone changed nothing
	e := eventOf(row, stock.Kind(st.Kind), st.Date, &st.Amount)
	e.DippedBrush = deref(st.DippedBrush)
	if e.Kind == stock.ToppedUp && st.With != nil {
		with := h.ingredient(api.BatchInput{From: *st.With})
		e.With, h.with[e.ID] = &with, *st.With
		if st.With.Batch != nil {
			h.add(st.With.Batch.Id, eventOf(row, stock.Decanted, st.Date, &st.Amount))
		}
	}
	h.add(st.Batch.Id, e)
}
