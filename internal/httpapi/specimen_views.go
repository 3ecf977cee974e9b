package httpapi

import (
	"strings"

	"meniscus/api"
	"meniscus/internal/fault"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
	"meniscus/internal/stack"
	"meniscus/internal/statement"
	"meniscus/internal/views"
)

// readPresentState tells what is on a specimen, by area and layer.
func readPresentState(s *Server, c *requestContext) (*answer, error) {
	st, sequence, err := s.stackOf(c)
	if err != nil {
		return nil, err
	}
	return tellPresentState.whole(c, st, views.PresentState(c.id("specimenId"), st, stack.Area(c.text("area")), sequence))
}

// planRemoval tells in which order layers could come off, and with what.
func planRemoval(s *Server, c *requestContext) (*answer, error) {
	plan, st, err := s.removalPlan(c, stack.PlanRequest{Brief: c.detail() == api.Brief})
	if err != nil {
		return nil, err
	}
	return tellRemovalPlan.whole(c, st, plan)
}

// removalPlan works out the removal plan of the specimen of the path.
func (s *Server) removalPlan(
	c *requestContext, request stack.PlanRequest,
) (plan api.RemovalPlan, st *stack.Stack, err error) {
	if st, _, err = s.stackOf(c); err != nil {
		return plan, nil, err
	}
	if text := c.text("treatments"); text != "" {
		request.Treatments = strings.Split(text, ",")
		if err := ofSpecimen(st, request.Treatments); err != nil {
			return plan, nil, err
		}
	}
	base, err := s.knowledge(c)
	if err != nil {
		return plan, nil, err
	}
	var room views.Room
	room.Grams, _ = c.query["evaporatedGrams"].(float64)
	room.CubicMetres, _ = c.query["roomVolume"].(float64)
	return views.RemovalPlan(c.id("specimenId"), st, request, base, room), st, nil
}

// ofSpecimen refuses treatments that are not on the specimen.
func ofSpecimen(st *stack.Stack, ids []string) error {
	for _, id := range ids {
		if !st.Has(id) {
			return &fault.Fault{
				Kind: fault.NotFound, Code: "treatment-not-on-specimen", Parameter: "treatments",
				Detail: "One of these treatments is not recorded on this specimen on the day that is asked about.",
			}
		}
	}
	return nil
}

// assessSuitability tells what bears on samples for analysis.
func assessSuitability(s *Server, c *requestContext) (*answer, error) {
	st, _, err := s.stackOf(c)
	if err != nil {
		return nil, err
	}
	var only []string
	if kind := c.text("analysis"); kind != "" {
		only = []string{kind}
	}
	return tellSuitability.whole(c, st, views.Suitability(c.id("specimenId"), st, only...))
}

// readTravelTemperature tells how warm a specimen may travel or stand.
func readTravelTemperature(s *Server, c *requestContext) (*answer, error) {
	view, st, err := s.travelTemperature(c)
	if err != nil {
		return nil, err
	}
	return tellTravel.whole(c, st, view)
}

// travelTemperature works out the travel temperature of the specimen of the path.
func (s *Server) travelTemperature(c *requestContext) (view api.TravelTemperature, st *stack.Stack, err error) {
	if st, _, err = s.stackOf(c); err != nil {
		return view, nil, err
	}
	base, err := s.knowledge(c)
	if err != nil {
		return view, nil, err
	}
	return views.TravelTemperature(c.id("specimenId"), st, base), st, nil
}

// drawTimeline draws a specimen's history.
func drawTimeline(s *Server, c *requestContext) (*answer, error) {
	st, _, err := s.stackOf(c)
	if err != nil {
		return nil, err
	}
	title, err := s.numberOfSpecimen(c)
	if err != nil {
		return nil, err
	}
	a := &answer{mediaType: "image/svg+xml", body: st.Timeline(title)}
	if err := st.Err(); err != nil {
		return nil, err
	}
	a.setHeader("Content-Security-Policy", "default-src 'none'; style-src 'unsafe-inline'; "+noFrames)
	return a, nil
}

// numberOfSpecimen is the specimen's first number, or its id.
func (s *Server) numberOfSpecimen(c *requestContext) (string, error) {
	id := c.id("specimenId")
	row, err := c.tenant().InForce(c.ctx(), id)
	if err != nil {
		return "", err
	}
	return firstNumber(row, id.String()), nil
}

func firstNumber(row postgres.Row, otherwise string) string {
	reading, err := statement.OfEntry(row.Kind, row.Body)
	if err != nil {
		return otherwise
	}
	if said, ok := reading.Value.(*record.Specimen); ok && len(said.Identifiers) > 0 {
		return said.Identifiers[0].Value
	}
	return otherwise
}
