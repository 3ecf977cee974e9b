package httpapi

import (
	"errors"
	"io"
	"log/slog"
	"maps"
	"slices"
	"strings"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/calculation"
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
	if c.mediaType == htmlType || c.mediaType == pdfType {
		return r.printed()
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
	server *Server
	call   *requestContext
	filter postgres.ReversibleFilter
	base   *material.Base
	today  edtf.Day
	page   []postgres.ReversibleRow
	about  map[uuid.UUID]*stack.Specimen // the specimens of the page
	walk   postgres.Walk
	count  views.ReversibleCount
}

// first reads the first page, so that an unavailable database is answered with a problem
// and not with half a report.
func (r *reversibleReport) first() error { return r.next() }

// next reads the next treatments; the filter may keep none of them. Layers that were
// worked out on another day are worked out anew first, because ages depend on the day.
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
		whole := postgres.Withholding(ctx, false) // what is kept is the same for all
		err := layers.Renew(whole, r.server.store.For(institution), specimen, r.base, r.server.now().UTC())
		if errors.Is(err, layers.ErrSetAside) { // its rows say so
			r.server.log.Error("set aside", append(guard.Attrs(err), slog.String("specimen", specimen.String()))...)
		} else if err != nil {
			return err
		}
	}
	r.page, err = r.server.store.For(institution).ReversibleTreatments(ctx, r.filter, ids)
	if err != nil {
		return err
	}
	r.about, err = aboutRows(r.call, r.page, func(row postgres.ReversibleRow) uuid.UUID { return row.Specimen })
	r.walk = walk
	return err
}

// aboutRows is what is said of the specimens of a page of rows.
func aboutRows[R any](c *requestContext, page []R, of func(R) uuid.UUID) (map[uuid.UUID]*stack.Specimen, error) {
	specimens := map[uuid.UUID]bool{}
	for _, row := range page {
		specimens[of(row)] = true
	}
	return c.about(slices.Collect(maps.Keys(specimens))...)
}

// each calls f with every row.
func (r *reversibleReport) each(f func(api.ReversibleTreatment) error) error {
	for {
		for _, row := range r.page {
			item, settled := layers.ReversibleItem(row)
			item.Hazards, item.PassedOn = views.Hazards(r.about[row.Specimen]), views.WentTo(r.about[row.Specimen].PassedOn)
			r.count.Add(item, settled)
			calculation.InBrief(&item)
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

// json writes the report, its lists first, because the totals are known only after them.
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
	without, err := r.call.tenant().SpecimensWithoutRecord(r.call.ctx(), r.filter.Collection)
	if err != nil {
		return err
	}
	withheld, err := r.call.tenant().WithheldTreatments(r.call.ctx())
	if err != nil {
		return err
	}
	totals, err := wire.Encode(r.count.Totals)
	if err != nil {
		return err
	}
	remainder, err := wire.Encode(r.count.Remainder(without, len(withheld)))
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
		about, err := aboutRows(r.call, page, func(x postgres.ReportedRemoval) uuid.UUID { return x.Specimen })
		if err != nil {
			return err
		}
		for _, x := range page {
			r.count.Totals.Removals++
			item := api.ReportedRemoval{
				Treatment: api.Ref(x.Treatment), Specimen: api.Ref(x.Specimen), Number: x.Number,
				Hazards: views.Hazards(about[x.Specimen]),
				Dates:   layers.DayBounds(x.Earliest, x.Latest), Removed: api.Refs(x.Removed),
			}
			if err := out.item(item); err != nil {
				return err
			}
		}
		walk = next
	}
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

// printed is the report as a paper.
func (r *reversibleReport) printed() (*answer, error) {
	p := views.ReversiblePaper{Known: r.base}
	if err := r.each(func(x api.ReversibleTreatment) error { p.Add(x); return nil }); err != nil {
		return nil, err
	}
	if err := r.removals(&listWriter{w: io.Discard}); err != nil {
		return nil, err
	}
	without, err := r.call.tenant().SpecimensWithoutRecord(r.call.ctx(), r.filter.Collection)
	if err != nil {
		return nil, err
	}
	head, err := r.server.reportHead(r.call, r.filter.From, r.filter.Until)
	if err != nil {
		return nil, err
	}
	var narrowed []string
	for _, name := range []string{"collection", "material", "area", "state", "redissolvable"} {
		if asked := r.call.text(name); asked != "" {
			narrowed = append(narrowed, name+" "+asked)
		}
	}
	withheld, err := r.call.tenant().WithheldTreatments(r.call.ctx())
	if err != nil {
		return nil, err
	}
	return printed(r.call, p.Paper(r.count.Totals, r.count.Remainder(without, len(withheld)), strings.Join(narrowed, ", "), head))
}

// csv writes the layers as a table (RFC 4180).
func (r *reversibleReport) csv(w io.Writer) error {
	out := sheet.NewWriter(w)
	err := out.Write(views.ReversibleColumns...)
	err = firstOf(err, r.each(func(x api.ReversibleTreatment) error { return out.Write(views.ReversibleCells(x)...) }))
	withheld, unasked := r.call.tenant().WithheldTreatments(r.call.ctx())
	if err = firstOf(err, unasked); err == nil && len(withheld) > 0 {
		cells := make([]string, len(views.ReversibleColumns))
		cells[0] = views.WithheldTreatments(len(withheld))
		err = out.Write(cells...)
	}
	return firstOf(err, out.Flush())
}
