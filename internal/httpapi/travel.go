package httpapi

import (
	"meniscus/api"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
	"meniscus/internal/stack"
	"meniscus/internal/statement"
)

// readTravelTemperature tells how warm a specimen may travel or stand.
func readTravelTemperature(s *Server, c *requestContext) (*answer, error) {
	st, _, err := s.stackOf(c)
	if err != nil {
		return nil, err
	}
	base, err := s.knowledge(c)
	if err != nil {
		return nil, err
	}
	t, about, cut := st.Travel(), aboutOf(st.Specimen()), false
	out := api.TravelTemperature{
		Specimen: c.id("specimenId"), MergedInto: about.mergedInto, Hazards: about.hazards, PassedOn: about.passedOn, At: wireDay(st.At()), Known: t.Known, AtMost: degrees(t.AtMost), AtLeast: degrees(t.AtLeast),
		Sentence: t.Sentence,
		Layers: each(listed(&cut, t.Layers, mostListed), func(l stack.TravelLayer) api.TravelLayer {
			return api.TravelLayer{
				Treatment: wireID(l.Layer.Treatment), Position: int32(l.Layer.Index), Role: api.LayerRole(l.Layer.Role),
				Material: stack.Describe(base, l.Layer.Identity), Certainty: certainty(l.Layer.Identity.Certainty), Highest: degrees(l.Limit.Highest), Lowest: degrees(l.Limit.Lowest),
				Evidence: wireEvidence(l.Limit.Evidence), Cautions: each(l.Limit.Cautions, func(t string) string { return t }),
			}
		}),
	}
	out.Cautions = about.cautions(cut, t.Cautions...)
	return whole(st, out)
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
