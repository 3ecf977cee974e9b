package httpapi

import (
	"time"

	"github.com/google/uuid"
	openapi_types "github.com/oapi-codegen/runtime/types"

	"meniscus/api"
	"meniscus/internal/edtf"
	"meniscus/internal/layers"
	"meniscus/internal/material"
	"meniscus/internal/postgres"
	"meniscus/internal/quantity"
	"meniscus/internal/record"
	"meniscus/internal/stack"
)

// stackOf reads the layers of the specimen in the path, on the day that was
// asked about.
func (s *Server) stackOf(c *requestContext) (*stack.Stack, int64, error) {
	id := c.id("specimenId")
	if err := s.mustExist(c, record.KindSpecimen, id); err != nil {
		return nil, 0, err
	}
	at, err := c.atDay()
	if err != nil {
		return nil, 0, err
	}
	base, err := s.knowledge(c)
	if err != nil {
		return nil, 0, err
	}
	config, place, err := s.history(c, id, base, at)
	if err != nil {
		return nil, 0, err
	}
	st, err := stack.New(config)
	return st, place, err
}

// history loads a specimen's records, as they are or as they were believed at a
// moment. A merged record's are those of the record that stands for the specimen.
func (s *Server) history(
	c *requestContext, id uuid.UUID, base *material.Base, at edtf.Day,
) (stack.Config, int64, error) {
	moment, err := c.instant("believedAt")
	if err != nil {
		return stack.Config{}, 0, err
	}
	survivor, h, err := s.historyRows(c, id, moment)
	if err != nil {
		return stack.Config{}, 0, err
	}
	config := layers.Config(c.ctx(), survivor, h, base, at)
	if survivor != id {
		config.Specimen.AskedAs = id.String()
	}
	layers.LogUnread(s.log, c.principal.Institution, &config.Specimen)
	return config, h.Place, nil
}

// historyRows reads the history of the specimen that a record is of, and gives
// the record that stands for it.
func (s *Server) historyRows(c *requestContext, id uuid.UUID, moment *time.Time) (uuid.UUID, postgres.History, error) {
	ctx, institution := c.ctx(), c.principal.Institution
	if moment == nil {
		survivor, err := s.store.For(institution).Survivor(ctx, id)
		if err != nil {
			return id, postgres.History{}, err
		}
		h, err := s.store.For(institution).HistoryOf(ctx, survivor)
		return survivor, h, err
	}
	place, err := s.store.For(institution).PlaceAt(ctx, *moment)
	if err != nil {
		return id, postgres.History{}, err
	}
	survivor, err := layers.SurvivorAt(ctx, s.store.For(institution), id, place)
	if err != nil {
		return id, postgres.History{}, err
	}
	h, err := layers.HistoryAt(ctx, s.store.For(institution), survivor, place)
	return survivor, h, err
}

// atDay is the day asked about: today when none was sent.
func (c *requestContext) atDay() (edtf.Day, error) {
	at, err := c.day("at")
	if err != nil {
		return edtf.Day{}, err
	}
	if at == nil {
		return c.server.today(), nil
	}
	return edtf.DayOf(*at), nil
}

// today is the day of the service's clock.
func (s *Server) today() edtf.Day { return edtf.DayOf(s.now().UTC()) }

func wireDay(d edtf.Day) api.Day { return openapi_types.Date{Time: d.Time()} }

func wireBounds(p edtf.Period) api.DateBounds {
	var out api.DateBounds
	if !p.From.IsZero() {
		d := wireDay(p.From)
		out.Earliest = &d
	}
	if !p.To.IsZero() {
		d := wireDay(p.To)
		out.Latest = &d
	}
	return out
}

// wireDates are the bounds of a date, and its words where it is uncertain or
// approximate.
func wireDates(when edtf.Period, date edtf.Date) api.DateBounds {
	out := wireBounds(when)
	if date.Qualified() {
		text := date.String()
		out.Written = &text
	}
	return out
}

// whole answers with what was worked out of a stack, unless who asked has left
// meanwhile: then it is cut short.
func whole(st *stack.Stack, body any) (*answer, error) {
	if err := st.Err(); err != nil {
		return nil, err
	}
	return ok(body)
}

// wireID is a treatment's id, which was read from a UUID before.
func wireID(id string) uuid.UUID { return uuid.MustParse(id) }

func wireIDs(ids []string) []uuid.UUID { return each(ids, wireID) }

func wireAreas(areas []stack.Area) []string {
	return each(areas, func(a stack.Area) string { return string(a) })
}

// listOrNone is a list that is left out when it is empty.
func listOrNone[T any](list []T) *[]T {
	if len(list) == 0 {
		return nil
	}
	return &list
}

// yes is a mark that is left out when it does not hold.
func yes(b bool) *bool {
	if !b {
		return nil
	}
	return &b
}

func count(n int) *int32 {
	if n == 0 {
		return nil
	}
	m := int32(n)
	return &m
}

// countBeyond is a count that is left out when all are listed.
func countBeyond(all, listed int) *int32 {
	if all == listed {
		return nil
	}
	return count(all)
}

func wireEvidence(list []stack.Evidence) []api.LayerEvidence {
	return each(list, func(e stack.Evidence) api.LayerEvidence {
		out := api.LayerEvidence{Says: e.Says, Source: e.Source, Date: said(e.Date)}
		if e.Treatment != "" {
			id := wireID(e.Treatment)
			out.Treatment = &id
		}
		if e.Status != "" {
			status := api.ValueStatus(e.Status)
			out.Status = &status
		}
		return out
	})
}

// celsius is a temperature, or nothing.
func degrees(x *float64) *api.Quantity { return figureIn(x, "Cel") }

func figureIn(x *float64, unit string) *api.Quantity {
	if x == nil {
		return nil
	}
	d := decimal(quantity.Digits(*x, 4))
	if d == nil {
		return nil
	}
	return &api.Quantity{Value: *d, Unit: unit}
}

func wireContradictions(list []stack.Contradiction) []api.Contradiction {
	return each(list, func(x stack.Contradiction) api.Contradiction {
		ids := []uuid.UUID{}
		for _, id := range x.Treatments {
			ids = append(ids, wireID(id))
		}
		return api.Contradiction{Code: x.Code, Treatments: ids, Sentence: x.Sentence}
	})
}

func wirePairs(list []stack.Pair) []api.LayerPair {
	return each(list, func(p stack.Pair) api.LayerPair {
		return api.LayerPair{Treatments: []uuid.UUID{wireID(p.A), wireID(p.B)}, Area: string(p.Area)}
	})
}

// unrecordedCaution stands beside every answer about what is on a specimen.
var unrecordedCaution = "An area without a record is not shown to be untreated."

func wireFindings(list []stack.Finding) []api.Finding { return each(list, wireFinding) }

func wireFinding(f stack.Finding) api.Finding {
	out := api.Finding{
		Rule: f.Rule, Severity: api.Severity(f.Severity), Layers: listOrNone(wireIDs(f.Layers)), Count: count(f.Count),
		Sentence: f.Sentence, Remedy: said(f.Remedy), Source: said(f.Source), Evidence: listOrNone(wireEvidence(f.Evidence)),
		Unknown: yes(f.Unknown), Possible: yes(f.Possible), TunedBecause: said(f.TunedBecause), Overridden: said(f.Overridden),
	}
	if len(f.Areas) == 1 {
		out.Area = said(f.Areas[0])
	} else {
		out.Areas = listOrNone(wireAreas(f.Areas))
	}
	if f.Status != "" {
		status := api.ValueStatus(f.Status)
		out.Status = &status
	}
	if f.TunedFrom != "" {
		from := api.Severity(f.TunedFrom)
		out.TunedFrom = &from
	}
	return out
}
