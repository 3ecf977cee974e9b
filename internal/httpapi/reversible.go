package httpapi

import (
	"errors"
	"fmt"
	"io"
	"log/slog"
	"strings"
	"time"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/edtf"
	"meniscus/internal/guard"
	"meniscus/internal/layers"
	"meniscus/internal/material"
	"meniscus/internal/postgres"
	"meniscus/internal/sheet"
	"meniscus/internal/stack"
	"meniscus/internal/views"
	"meniscus/internal/wire"
)

// reportPage is how many treatments a report reads at a time: it holds no more,
// and no connection between pages.
const reportPage = 500

// reportReversibleTreatments streams the report, as JSON or as a table.
func reportReversibleTreatments(s *Server, c *requestContext) (*answer, error) {
	f, err := c.reversibleFilter()
	if err != nil {
		return nil, err
	}
	base, err := s.library.Of(c.ctx(), c.principal.Institution)
	if err != nil {
		return nil, err
	}
	r := &reversibleReport{server: s, call: c, filter: f, base: base, today: s.today()}
	if err := r.first(); err != nil {
		return nil, err
	}
	return c.report("reversible-treatments", r.json, r.csv), nil
}

// report streams a report as JSON, or as a table to be kept in a file.
func (c *requestContext) report(name string, json, csv func(io.Writer) error) *answer {
	if c.mediaType != "text/csv" {
		return &answer{stream: json}
	}
	a := &answer{stream: csv}
	a.setHeader("Content-Disposition", `attachment; filename="`+name+`.csv"`)
	return a
}

func (c *requestContext) reversibleFilter() (postgres.ReversibleFilter, error) {
	f := postgres.ReversibleFilter{
		Collection: c.text("collection"), Material: c.text("material"), Redissolvable: c.text("redissolvable"),
		There: c.text("state") == "there", Gone: c.text("state") == "gone",
	}
	if area := c.text("area"); area != string(stack.Whole) {
		f.Area = area
	}
	var err error
	if f.From, err = c.day("from"); err != nil {
		return f, err
	}
	f.Until, err = c.day("until")
	return f, err
}

// reversibleReport is a report being written.
type reversibleReport struct {
	server    *Server
	call      *requestContext
	filter    postgres.ReversibleFilter
	base      *material.Base
	today     edtf.Day
	page      []postgres.ReversibleRow
	walk      postgres.Walk
	totals    api.ReversibleTotals
	remainder api.ReversibleRemainder
	seen      uuid.UUID // the last treatment counted; its rows stand together
}

// first reads the first page, so that a database that is away is a problem and
// not half an answer.
func (r *reversibleReport) first() error { return r.next() }

// next reads the treatments that come next; what the filter keeps of them may be
// nothing. Layers that were worked out on another day are worked out anew first:
// an age, and what follows from it, is of the day.
func (r *reversibleReport) next() error {
	ctx, institution := r.call.ctx(), r.call.principal.Institution
	ids, walk, err := r.server.store.For(institution).ReversibleWalk(ctx, r.filter, r.walk, reportPage)
	if err != nil {
		return err
	}
	stale, err := r.server.store.For(institution).StaleAmong(ctx, ids, r.today.Time())
	if err != nil {
		return err
	}
	for _, specimen := range stale {
		err := layers.Renew(ctx, r.server.store.For(institution), specimen, r.base, r.server.now().UTC())
		if errors.Is(err, layers.ErrSetAside) { // its rows say so
			r.server.log.Error("set aside", append(guard.Attrs(err), slog.String("specimen", specimen.String()))...)
		} else if err != nil {
			return err
		}
	}
	r.page, err = r.server.store.For(institution).ReversibleTreatments(ctx, r.filter, ids)
	r.walk = walk
	return err
}

// each calls f with every row.
func (r *reversibleReport) each(f func(api.ReversibleTreatment) error) error {
	for {
		for _, row := range r.page {
			item, settled := reversibleItem(row)
			r.count(row, settled)
			if err := f(item); err != nil {
				return err
			}
		}
		if r.walk.Ended {
			return nil
		}
		if err := r.next(); err != nil {
			return err
		}
	}
}

// reversibleItem renders a row; settled tells whether its material is one and
// not one of several.
func reversibleItem(row postgres.ReversibleRow) (item api.ReversibleTreatment, settled bool) {
	out := api.ReversibleTreatment{
		Treatment: row.Treatment, Specimen: row.Specimen, Number: row.Number, Collection: row.Collection, Action: api.Action(row.Action),
		Dates: dayBounds(row.Earliest, row.Latest), Areas: row.Areas, AreasKnown: len(row.Areas) > 0,
		Findings: api.FindingCounts{Block: int32(row.Block), Warn: int32(row.Warn), Info: int32(row.Info)},
	}
	out.Parts = listOrNone(row.Parts)
	if row.SetAside {
		out.SetAside = &row.SetAside
	}
	if row.Body == nil {
		return out, false
	}
	position := int32(row.Position)
	out.Position, out.Place = &position, row.Place
	out.Role, out.State = (*api.LayerRole)(row.Role), (*api.LayerState)(row.State)
	out.Redissolvable, out.Removable, out.Retreatable = (*api.UndoAnswer)(row.Redissolvable), (*api.UndoAnswer)(row.Removable), (*api.UndoAnswer)(row.Retreatable)
	if row.ComputedOn != nil {
		day := views.Day(edtf.DayOf(*row.ComputedOn))
		out.ComputedOn = &day
	}
	var said layers.Reported
	if wire.Decode([]byte(*row.Body), &said) == nil {
		out.Material, out.Certainty, out.Strength = &said.Material, &said.Certainty, said.Strength
		if said.Written != "" {
			out.Dates.Written = &said.Written
		}
		out.Ageing = (*api.ReversibleTreatmentAgeing)(&said.Ageing)
		out.AgeingClass, out.RemovedBy, out.TestsOnly, out.Evidence = listOrNone(said.AgeingClass), listOrNone(said.RemovedBy), listOrNone(said.TestsOnly), listOrNone(said.Evidence)
	}
	return out, said.Settled
}

func dayBounds(earliest, latest *time.Time) api.DateBounds {
	var p edtf.Period
	if earliest != nil {
		p.From = edtf.DayOf(*earliest)
	}
	if latest != nil {
		p.To = edtf.DayOf(*latest)
	}
	return views.Bounds(p)
}

// count adds a row to the totals and to what cannot be said.
func (r *reversibleReport) count(row postgres.ReversibleRow, settled bool) {
	if row.Treatment != r.seen {
		r.totals.Treatments++
		r.seen = row.Treatment
	}
	if row.Earliest == nil && row.Latest == nil {
		r.remainder.DateUnknown++
	}
	if len(row.Areas) == 0 {
		r.remainder.AreaUnknown++
	}
	if row.SetAside {
		aside := deref(r.remainder.SetAside) + 1
		r.remainder.SetAside = &aside
	}
	if row.Body == nil {
		if !row.SetAside {
			r.remainder.NotComputed++
		}
		r.totals.Redissolvable.Unknown++
		return
	}
	r.totals.Layers++
	switch deref(row.Redissolvable) {
	case "yes":
		r.totals.Redissolvable.Yes++
	case "partly":
		r.totals.Redissolvable.Partly++
	case "no":
		r.totals.Redissolvable.No++
	default:
		r.totals.Redissolvable.Unknown++
	}
	if !settled {
		r.remainder.MaterialUnknown++
	}
}

// json writes the report, its lists first, for only at their end are the totals
// known.
func (r *reversibleReport) json(w io.Writer) error {
	out := &listWriter{w: w}
	out.raw(`{"items":[`)
	if err := r.each(func(item api.ReversibleTreatment) error { return out.item(item) }); err != nil {
		return err
	}
	out.raw(`],"removals":[`)
	out.begun = false
	if err := r.removals(out); err != nil {
		return err
	}
	if err := r.conclude(); err != nil {
		return err
	}
	totals, err := wire.Encode(r.totals)
	if err != nil {
		return err
	}
	remainder, err := wire.Encode(r.remainder)
	if err != nil {
		return err
	}
	out.raw(`],"totals":` + string(totals) + `,"remainder":` + string(remainder) + "}")
	return out.err
}

func (r *reversibleReport) removals(out *listWriter) error {
	for walk := (postgres.Walk{}); !walk.Ended; {
		page, next, err := r.call.tenant().Removals(r.call.ctx(), r.filter, walk, reportPage)
		if err != nil {
			return err
		}
		for _, x := range page {
			r.totals.Removals++
			item := api.ReportedRemoval{Treatment: x.Treatment, Specimen: x.Specimen, Number: x.Number, Dates: dayBounds(x.Earliest, x.Latest), Removed: each(x.Removed, func(id uuid.UUID) uuid.UUID { return id })}
			if err := out.item(item); err != nil {
				return err
			}
		}
		walk = next
	}
	return nil
}

// conclude says what cannot be said.
func (r *reversibleReport) conclude() error {
	n, err := r.call.tenant().SpecimensWithoutRecord(r.call.ctx(), r.filter.Collection)
	if err != nil {
		return err
	}
	r.remainder.SpecimensWithoutRecord = int32(n)
	r.remainder.Sentences = []string{}
	say := func(n int32, one, many string) {
		switch {
		case n == 1:
			r.remainder.Sentences = append(r.remainder.Sentences, one)
		case n > 1:
			r.remainder.Sentences = append(r.remainder.Sentences, fmt.Sprintf(many, n))
		}
	}
	say(r.remainder.MaterialUnknown, "Of one layer the material is not settled, so its answers are the most cautious ones.", "Of %d layers the material is not settled, so their answers are the most cautious ones.")
	say(r.remainder.DateUnknown, "One layer has no date; it may be of the period or not.", "%d layers have no date; they may be of the period or not.")
	say(r.remainder.AreaUnknown, "Of one layer nobody knows the area.", "Of %d layers nobody knows the area.")
	say(r.remainder.NotComputed, "One treatment was recorded so recently that nobody has looked yet.", "%d treatments were recorded so recently that nobody has looked yet.")
	say(deref(r.remainder.SetAside), "One treatment is on a specimen whose layers could not be worked out, so nothing is said of it.", "%d treatments are on specimens whose layers could not be worked out, so nothing is said of them.")
	say(r.remainder.SpecimensWithoutRecord, "One specimen is registered and has no recorded treatment, which does not mean that it was never treated.", "%d specimens are registered and have no recorded treatment, which does not mean that they were never treated.")
	return nil
}

// listWriter writes items of a list with commas between; it remembers the first
// failure.
type listWriter struct {
	w     io.Writer
	begun bool
	err   error
}

func (l *listWriter) raw(text string) {
	if l.err == nil {
		_, l.err = io.WriteString(l.w, text)
	}
}

func (l *listWriter) item(v any) error {
	body, err := wire.Encode(v)
	if err != nil {
		return err
	}
	if l.begun {
		l.raw(",")
	}
	l.begun = true
	l.raw(string(body))
	return l.err
}

// csv writes the layers as a table (RFC 4180).
func (r *reversibleReport) csv(w io.Writer) error {
	out := sheet.NewWriter(w)
	err := out.Write("treatment", "specimen", "number", "collection", "action", "earliest", "latest", "areas", "role", "material", "certainty", "state",
		"redissolvable", "removable", "retreatable", "ageing", "removedBy", "testsOnly", "block", "warn", "info", "computedOn", "setAside",
		"strength", "strengthUnit", "strengthBasis", "strengthOrigin", "strengthUncertainty", "dateWritten")
	err = firstOf(err, r.each(func(x api.ReversibleTreatment) error {
		return out.Write(append([]string{
			x.Treatment.String(), x.Specimen.String(), deref(x.Number), deref(x.Collection), string(x.Action), dayText(x.Dates.Earliest), dayText(x.Dates.Latest),
			strings.Join(x.Areas, "; "), string(deref(x.Role)), deref(x.Material), string(deref(x.Certainty)), string(deref(x.State)),
			string(deref(x.Redissolvable)), string(deref(x.Removable)), string(deref(x.Retreatable)), string(deref(x.Ageing)),
			strings.Join(deref(x.RemovedBy), "; "), strings.Join(deref(x.TestsOnly), "; "),
			fmt.Sprint(x.Findings.Block), fmt.Sprint(x.Findings.Warn), fmt.Sprint(x.Findings.Info), dayText(x.ComputedOn), yesOrNothing(deref(x.SetAside)),
		}, append(strengthCells(x.Strength), deref(x.Dates.Written))...)...)
	}))
	return firstOf(err, out.Flush())
}

// strengthCells are the cells of a layer's strength: its value, unit, basis,
// origin, and expanded uncertainty.
func strengthCells(s *api.LayerStrength) []string {
	if s == nil {
		return make([]string, 5)
	}
	uncertainty := ""
	if s.Uncertainty != nil {
		uncertainty = fmt.Sprint(s.Uncertainty.Expanded)
	}
	return []string{fmt.Sprint(s.Value), deref(s.Unit), string(s.Basis), string(s.Origin), uncertainty}
}

func dayText(d *api.Day) string {
	if d == nil {
		return ""
	}
	return d.Format(time.DateOnly)
}

func yesOrNothing(is bool) string {
	if is {
		return "yes"
	}
	return ""
}
