package httpapi

import (
	"encoding/base64"
	"encoding/json"
	"io"
	"strings"
	"time"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/calendar"
	"meniscus/internal/edtf"
	"meniscus/internal/postgres"
	"meniscus/internal/quantity"
	"meniscus/internal/record"
	"meniscus/internal/sheet"
	"meniscus/internal/statement"
	"meniscus/internal/stock"
	"meniscus/internal/views"
	"meniscus/internal/wire"
)

const (
	dueAtATime    = 500
	mostDueLooked = 2000 // of one page
	dueAhead      = 30   // days, where no day is asked for
	calendarAhead = 366  // days
)

// due is a walk through what is due, in its order.
type due struct {
	call  *requestContext
	what  string
	until edtf.Day
	from  postgres.DueStep
	ended bool
}

func (s *Server) dueAsked(c *requestContext) (*due, error) {
	d := &due{call: c, what: c.text("what"), until: s.today().AddDays(dueAhead)}
	until, err := c.day("until")
	if until != nil {
		d.until = edtf.DayOf(*until)
	}
	return d, err
}

// next looks at the next rows, at most dueAtATime, and gives at most limit that are still to be
// done.
func (d *due) next(limit int) (items []api.DueItem, looked int, err error) {
	rows, err := d.call.tenant().Due(d.call.ctx(), d.from, d.until.Time(), dueAtATime)
	if err != nil {
		return nil, 0, err
	}
	told, err := d.tell(rows)
	if err != nil {
		return nil, 0, err
	}
	d.ended = len(rows) < dueAtATime
	var kept []postgres.DueRow
	for i, row := range rows {
		d.from = row.Step()
		looked++
		if row.Open && (d.what == "" || d.what == row.What) && !told.over[row.Record] {
			kept = append(kept, row)
		}
		if len(kept) == limit {
			d.ended = d.ended && i == len(rows)-1
			break
		}
	}
	items, err = d.items(kept, told)
	return items, looked, err
}

// dueTold is what words and balances tell of rows, and the store does not: over are those of a
// batch that is spent, or of which enough is left.
type dueTold struct {
	over map[uuid.UUID]bool
	says map[uuid.UUID]views.DueOf
}

// tell reads what tells of rows: the words of their treatments and batches, and what is left.
func (d *due) tell(rows []postgres.DueRow) (dueTold, error) {
	out := dueTold{map[uuid.UUID]bool{}, map[uuid.UUID]views.DueOf{}}
	var of, low []uuid.UUID
	for _, row := range rows {
		switch {
		case !row.Open:
		case row.What == record.DueNextCheck:
			of = append(of, row.Record)
		case row.Batch != nil && row.What == record.DueRunningLow:
			of, low = append(of, *row.Batch), append(low, *row.Batch)
		case row.What == record.DueStrengthCheck:
			of = append(of, *row.Batch)
		}
	}
	words, err := d.call.tenant().InForceOf(d.call.ctx(), of)
	if err != nil {
		return out, err
	}
	left, err := d.left(low)
	if err != nil {
		return out, err
	}
	for _, row := range rows {
		if row.Open {
			out.says[row.Record], out.over[row.Record] = dueOf(row, words, left)
		}
	}
	return out, nil
}

// dueOf is what a sentence says of a row, and whether there is nothing to do about it after all.
func dueOf(row postgres.DueRow, words map[uuid.UUID]postgres.Row, left leftOf) (of views.DueOf, over bool) {
	of.Action = deref(row.Action)
	switch row.What {
	case record.DueNextCheck:
		if read, err := statement.OfEntry(record.KindTreatment, words[row.Record].Body); err == nil {
			of.For = read.Value.(*record.Treatment).NextCheckFor
		}
	case record.DueStrengthCheck, record.DueRunningLow:
		if row.Batch == nil { // a supply says it itself
			break
		}
		read, err := statement.OfEntry(record.KindBatch, words[*row.Batch].Body)
		if err != nil { // without words there is nothing to measure
			return of, true
		}
		batch := read.Value.(*record.Batch)
		if over = batch.State == "spent" || batch.State == "discarded"; !over && row.What == record.DueRunningLow {
			of.Left, over = left(*row.Batch, batch.LowAt)
		}
	}
	return of, over
}

// leftOf tells what is left of a batch, "" where that is not known, and whether it is more than
// the least that it is to have.
type leftOf func(batch uuid.UUID, least *quantity.Quantity) (left string, enough bool)

// left reads the balances of batches.
func (d *due) left(batches []uuid.UUID) (leftOf, error) {
	if len(batches) == 0 {
		return nil, nil
	}
	book, err := d.call.server.book(d.call, batches)
	if err != nil {
		return nil, err
	}
	shelf := book.Shelf()
	return func(batch uuid.UUID, least *quantity.Quantity) (string, bool) {
		unit, balance := shelf.Unit(batch.String()), shelf.Account(batch.String()).Balance
		if balance.Knowledge == stock.Unknown || least == nil {
			return "", false
		}
		at, err := least.In(unit)
		if err != nil { // a mass of what is kept by volume, or the reverse
			return "", false
		}
		return balance.Remaining.Said() + " " + string(unit), balance.Remaining.Value > at
	}, nil
}

// items are rows as they are answered, with what is to be known of their specimens.
func (d *due) items(rows []postgres.DueRow, told dueTold) ([]api.DueItem, error) {
	var specimens []api.RecordRef
	for _, row := range rows {
		if row.Specimen != nil {
			specimens = append(specimens, api.Ref(*row.Specimen))
		}
	}
	ids, _ := distinct(specimens)
	about, err := d.call.about(ids...)
	if err != nil {
		return nil, err
	}
	items := make([]api.DueItem, len(rows))
	for i, row := range rows {
		x := api.DueItem{What: api.DueWhat(row.What), Record: api.Ref(row.Record), Specimen: api.RefIf(row.Specimen),
			Number: row.Number, Batch: api.RefIf(row.Batch), Code: row.Code}
		if !row.Undated() {
			day := views.Day(edtf.DayOf(row.Day))
			x.Date = &day
		}
		if row.Specimen != nil {
			x.Cautions = views.Cautions(about[*row.Specimen])
		}
		x.Sentence = views.DueSentence(x, told.says[row.Record])
		items[i] = x
	}
	return items, nil
}

// each calls f with all that is due.
func (d *due) each(f func(api.DueItem) error) error {
	for !d.ended {
		items, _, err := d.next(dueAtATime)
		if err != nil {
			return err
		}
		for _, item := range items {
			if err := f(item); err != nil {
				return err
			}
		}
	}
	return nil
}

// listDue answers a page of what is due, or all of it as a table.
func listDue(s *Server, c *requestContext) (*answer, error) {
	if c.mediaType == "text/csv" {
		return reportDue(s, c)
	}
	d, err := s.dueAsked(c)
	if err == nil {
		d.from, err = c.dueCursor()
	}
	if err != nil {
		return nil, err
	}
	list := api.DueList{Items: []api.DueItem{}, Until: views.Day(d.until)}
	limit := c.number("limit")
	for looked := 0; !d.ended && len(list.Items) < limit && looked < mostDueLooked; {
		items, n, err := d.next(limit - len(list.Items))
		if err != nil {
			return nil, err
		}
		looked += n
		list.Items = append(list.Items, items...)
	}
	if !d.ended {
		n := c.next(dueCursor(d.from))
		list.Next = &api.Next{Cursor: n.cursor, Href: n.href}
	}
	if c.mediaType == plainType {
		return documentAnswer(plainType+"; charset=utf-8", []byte(views.DueText(list).Whole()), nil)
	}
	a, err := ok(list)
	return linked(a, err, list.Next)
}

// reportDue streams all that is due.
func reportDue(s *Server, c *requestContext) (*answer, error) {
	d, err := s.dueAsked(c)
	if err != nil {
		return nil, err
	}
	return c.report("due", d.json, d.csv), nil
}

func (d *due) json(w io.Writer) error {
	out := &listWriter{w: w}
	out.raw(`{"until":"` + d.until.String() + `","items":[`)
	err := d.each(func(x api.DueItem) error { return out.item(x) })
	out.raw("]}")
	return firstOf(err, out.err)
}

func (d *due) csv(w io.Writer) error {
	out := sheet.NewWriter(w)
	err := out.Write(views.DueColumns...)
	err = firstOf(err, d.each(func(x api.DueItem) error { return out.Write(views.DueCells(x)...) }))
	return firstOf(err, out.Flush())
}

// readDueCalendar streams what is due as a calendar. What has no date stands on today.
func readDueCalendar(s *Server, c *requestContext) (*answer, error) {
	d := &due{call: c, until: s.today().AddDays(calendarAhead)}
	// The key is part of the address, which caches keep.
	return &answer{noStore: true, mediaType: "text/calendar; charset=utf-8", stream: func(w io.Writer) error {
		feed := calendar.NewFeed(w, "What is due", s.now())
		err := d.each(func(x api.DueItem) error {
			day := s.today().Time()
			if x.Date != nil {
				day = x.Date.Time
			}
			e := calendar.Event{UID: x.Record.Id.String() + "-" + string(x.What), Day: day, Summary: x.Sentence,
				URL: s.publicURL + "/v1/records/" + x.Record.Id.String(), Category: string(x.What)}
			for _, caution := range deref(x.Cautions) {
				e.Description += caution + "\n"
			}
			feed.Event(e)
			return nil
		})
		return firstOf(err, feed.Close())
	}}, nil
}

// dueAt is a cursor of the list of what is due, as it is encoded.
type dueAt struct {
	Day    string    `json:"d"`
	What   string    `json:"w"`
	Record uuid.UUID `json:"r"`
}

func dueCursor(at postgres.DueStep) string {
	// Two texts and an id cannot fail to encode.
	encoded, _ := json.Marshal(dueAt{at.Day.Format(time.DateOnly), at.What, at.Record})
	return base64.RawURLEncoding.EncodeToString(encoded)
}

// dueCursor is where the page begins.
func (c *requestContext) dueCursor() (at postgres.DueStep, err error) {
	text := c.text("cursor")
	if text == "" {
		return at, nil
	}
	raw, err := base64.RawURLEncoding.DecodeString(text)
	var sent dueAt
	if err == nil {
		err = wire.Decode(raw, &sent)
	}
	if err == nil {
		at.Day, err = time.Parse(time.DateOnly, sent.Day)
	}
	if err != nil || strings.ContainsRune(sent.What, 0) {
		return at, invalidCursor
	}
	at.What, at.Record = sent.What, sent.Record
	return at, nil
}
