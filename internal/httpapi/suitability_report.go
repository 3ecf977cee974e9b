package httpapi

import (
	"errors"
	"io"
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

// reportSuitability streams what bears on samples of many specimens, as JSON or
// as a table. Some specimens are held at a time.
func reportSuitability(s *Server, c *requestContext) (*answer, error) {
	return suitabilityOf(s, c, false)
}

// reportAllSuitability is reportSuitability without pages, for the calendar.
func reportAllSuitability(s *Server, c *requestContext) (*answer, error) {
	return suitabilityOf(s, c, true)
}

func suitabilityOf(s *Server, c *requestContext, all bool) (*answer, error) {
	r := &suitabilityReport{server: s, call: c, collection: c.text("collection"), analyses: stack.Analyses, all: all}
	if kind := c.text("analysis"); kind != "" {
		r.analyses = []string{kind}
	}
	if err := r.first(); err != nil {
		return nil, err
	}
	a := c.report("suitability", r.json, r.csv)
	if r.more != nil && !all {
		a.setHeader("Link", "<"+r.more.href+`>; rel="next"`)
	}
	return a, nil
}

// suitabilityReport is a report being written.
type suitabilityReport struct {
	server     *Server
	call       *requestContext
	collection string
	named      []uuid.UUID // nil: not by name
	analyses   []string
	at         edtf.Day
	base       *material.Base
	page       []postgres.ReportedSpecimen
	totals     []api.SuitabilityTotal
	all        bool      // page after page, in one answer
	more       *nextPage // nil: none
	cut        bool      // a list of some specimen was cut
	written    views.Suitabilities
}

// first reads what is asked and the first page, so that a fault or an unavailable
// database is answered with a problem and not with half a report.
func (r *suitabilityReport) first() (err error) {
	if text := r.call.text("specimens"); text != "" {
		for _, id := range strings.Split(text, ",") {
			parsed, err := uuid.Parse(id)
			if err != nil {
				return parameterFault("specimens", "Write UUIDs in their usual form of 36 characters, with commas between.")
			}
			r.named = append(r.named, parsed)
		}
	}
	if r.at, err = r.call.atDay(); err != nil {
		return err
	}
	for _, kind := range r.analyses {
		r.totals = append(r.totals, api.SuitabilityTotal{Analysis: api.AnalysisKind(kind)})
	}
	if r.base, err = r.server.knowledge(r.call); err != nil {
		return err
	}
	after, err := r.call.cursor()
	if err != nil {
		return err
	}
	return r.read(after)
}

// read reads a page of specimens, and whether there are more.
func (r *suitabilityReport) read(after uuid.UUID) (err error) {
	r.more = nil
	r.page, err = r.call.tenant().StandingSpecimens(r.call.ctx(), r.collection, r.named, after, mostSuitability+1)
	if len(r.page) > mostSuitability {
		r.page = r.page[:mostSuitability]
		r.more = r.call.next(idCursor(r.page[mostSuitability-1].ID))
	}
	return err
}

// mostSuitability is how many specimens one request works out; a cursor leads to the
// next.
const mostSuitability = 500

// suitabilityTogether is how many specimens are read at once, and
// suitabilityWords how many bytes of words; one that has more is read alone.
const (
	suitabilityTogether = 25
	suitabilityWords    = 16 << 20
)

// each calls f with every specimen.
func (r *suitabilityReport) each(f func(api.SpecimenSuitability) error) error {
	for {
		for together := range slices.Chunk(r.page, suitabilityTogether) {
			if err := r.together(together, f); err != nil {
				return err
			}
		}
		if !r.all || r.more == nil {
			return nil
		}
		if err := r.read(r.page[len(r.page)-1].ID); err != nil {
			return err
		}
	}
}

// together reads specimens at once and calls f with each. It stops when the caller
// leaves.
func (r *suitabilityReport) together(
	specimens []postgres.ReportedSpecimen, f func(api.SpecimenSuitability) error,
) error {
	ids := make([]uuid.UUID, len(specimens))
	for i, of := range specimens {
		ids[i] = of.ID
	}
	ctx, institution := r.call.ctx(), r.call.principal.Institution
	histories, err := r.server.store.For(institution).HistoriesWithin(ctx, ids, suitabilityWords)
	if errors.Is(err, postgres.ErrTooMuch) && len(specimens) > 1 {
		for i := range specimens {
			if err := r.together(specimens[i:i+1], f); err != nil {
				return err
			}
		}
		return nil
	}
	if errors.Is(err, postgres.ErrTooMuch) {
		return f(r.setAside(specimens[0], err))
	}
	for i, of := range specimens {
		if err = firstOf(err, ctx.Err()); err != nil {
			return err
		}
		item, err := r.guarded(of, histories[i])
		if err != nil {
			return err
		}
		calculation.InBrief(&item)
		if err := f(item); err != nil {
			return err
		}
	}
	return err
}

// guarded is item, or a specimen set aside. It fails only when the caller has left.
func (r *suitabilityReport) guarded(
	of postgres.ReportedSpecimen, h postgres.History,
) (item api.SpecimenSuitability, err error) {
	err = guard.Run(func() (err error) { item, err = r.item(of, h); return err })
	if err == nil || r.call.ctx().Err() != nil {
		return item, firstOf(r.call.ctx().Err(), err)
	}
	return r.setAside(of, err), nil
}

// setAside is a specimen that cannot be worked out: the report says so and goes on.
func (r *suitabilityReport) setAside(of postgres.ReportedSpecimen, err error) api.SpecimenSuitability {
	r.server.log.Error("a specimen could not be worked out for a report", append(guard.Attrs(err),
		"institution", r.call.principal.Institution.String(), "specimen", of.ID.String())...)
	item := views.SuitabilitySetAside(r.analyses)
	item.Specimen, item.Number, item.Collection = api.Ref(of.ID), of.Number, of.Collection
	for i := range r.totals {
		r.totals[i].MayBear++
	}
	return item
}

// item works out one specimen and counts its verdicts.
func (r *suitabilityReport) item(of postgres.ReportedSpecimen, h postgres.History) (api.SpecimenSuitability, error) {
	config, err := layers.Bounded(r.call.ctx(), of.ID, h, r.base, r.at)
	if err != nil {
		return api.SpecimenSuitability{}, err
	}
	if err := r.call.tellHazards(&config.Specimen); err != nil {
		return api.SpecimenSuitability{}, err
	}
	st, err := stack.New(config)
	if err != nil {
		return api.SpecimenSuitability{}, err
	}
	layers.LogUnread(r.server.log, r.call.principal.Institution, &config.Specimen)
	item, cut := r.written.One(&config.Specimen, st.Suitability(r.analyses...))
	if err := st.Err(); err != nil {
		return item, err
	}
	r.cut = r.cut || cut
	item.Specimen, item.Number, item.Collection = api.Ref(of.ID), of.Number, of.Collection
	item.Treatments = int64(len(config.Treatments))
	for i, a := range item.Analyses {
		switch t := &r.totals[i]; stack.Verdict(a.Verdict) {
		case stack.Bears:
			t.Bears++
		case stack.MayBear:
			t.MayBear++
		case stack.NothingKnown:
			t.NothingKnown++
		case stack.NoRecord:
			t.NotRecorded++
		}
	}
	return item, nil
}

func (r *suitabilityReport) json(w io.Writer) error {
	out := &listWriter{w: w}
	at, err := wire.Encode(views.Day(r.at))
	if err != nil {
		return err
	}
	out.raw(`{"at":` + string(at) + `,"items":[`)
	if err := r.each(func(item api.SpecimenSuitability) error { return out.item(item) }); err != nil {
		return err
	}
	unknown, err := r.call.tenant().NotStanding(r.call.ctx(), r.named)
	if err != nil {
		return err
	}
	end, err := wire.Encode(struct {
		Totals   []api.SuitabilityTotal   `json:"totals"`
		Unknown  []api.RecordRef          `json:"unknown"`
		Cautions []string                 `json:"cautions"`
		Sources  *[]api.BibliographyEntry `json:"sources"`
		Next     *api.Next                `json:"next,omitempty"`
	}{r.totals, api.Refs(unknown), views.SuitabilityCautions(r.cut), r.written.Sources(), r.following()})
	if err != nil {
		return err
	}
	out.raw("]," + string(end[1:]))
	return out.err
}

// following is where the next specimens are, if there are more.
func (r *suitabilityReport) following() *api.Next {
	if r.more == nil || r.all {
		return nil
	}
	return &api.Next{Cursor: r.more.cursor, Href: r.more.href}
}

// csv writes a line for each specimen and analysis (RFC 4180).
func (r *suitabilityReport) csv(w io.Writer) error {
	out := sheet.NewWriter(w)
	err := out.Write(views.SuitabilityColumns...)
	err = firstOf(err, r.each(func(x api.SpecimenSuitability) error {
		for _, a := range x.Analyses {
			if err := out.Write(views.SuitabilityCells(x, a)...); err != nil {
				return err
			}
		}
		return nil
	}))
	return firstOf(err, out.Flush())
}
