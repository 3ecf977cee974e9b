package httpapi

import (
	"time"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/calculation"
	"meniscus/internal/edtf"
	"meniscus/internal/layers"
	"meniscus/internal/material"
	"meniscus/internal/plain"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
	"meniscus/internal/stack"
	"meniscus/internal/views"
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
	config, sequence, err := s.history(c, id, base, at)
	if err != nil {
		return nil, 0, err
	}
	st, err := stack.New(config)
	return st, sequence, err
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
	config, err := layers.Bounded(c.ctx(), survivor, h, base, at)
	if err != nil {
		return config, 0, err
	}
	if survivor != id {
		config.Specimen.AskedAs = id.String()
	}
	layers.LogUnread(s.log, c.principal.Institution, &config.Specimen)
	return config, h.Sequence, c.tellHazards(&config.Specimen)
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
		h, err := layers.HistoryOf(ctx, s.store.For(institution), survivor)
		return survivor, h, err
	}
	sequence, err := s.store.For(institution).SequenceAt(ctx, *moment)
	if err != nil {
		return id, postgres.History{}, err
	}
	survivor, err := layers.SurvivorAt(ctx, s.store.For(institution), id, sequence)
	if err != nil {
		return id, postgres.History{}, err
	}
	h, err := layers.HistoryAt(ctx, s.store.For(institution), survivor, sequence)
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

// telling makes a view brief, and text of it.
type telling[T any] struct {
	brief func(T) T
	text  func(T) plain.Text
}

// whole answers with a view of a stack, or with the stack's error where the caller left
// and the computation was cut short.
func (as telling[T]) whole(c *requestContext, st *stack.Stack, view T) (*answer, error) {
	if err := st.Err(); err != nil {
		return nil, err
	}
	return as.answer(c, view)
}

// answer tells a view in as much detail as was asked for.
func (as telling[T]) answer(c *requestContext, view T) (*answer, error) {
	if c.detail() == api.Brief {
		view = as.brief(view)
		calculation.InBrief(&view)
	}
	return c.tell(view, func() plain.Text { return as.text(view) })
}

// The views that are answers (`answers: true` in the contract).
var (
	tellPresentState = telling[api.PresentState]{views.BriefPresentState, views.PresentStateText}
	tellRemovalPlan  = telling[api.RemovalPlan]{views.BriefRemovalPlan, views.RemovalPlanText}
	tellSuitability  = telling[api.Suitability]{views.BriefSuitability, views.SuitabilityText}
	tellTravel       = telling[api.TravelTemperature]{views.BriefTravelTemperature, views.TravelTemperatureText}
	tellContents     = telling[api.BatchContents]{views.BriefBatchContents, views.BatchContentsText}
	tellCheck        = telling[api.TreatmentCheck]{views.BriefTreatmentCheck, views.TreatmentCheckText}
	tellFindings     = telling[api.FindingList]{views.BriefFindings, views.FindingsText}
)
