package httpapi

import (
	"meniscus/api"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
)

// lookUpSpecimen answers what is known here of one number; never a bare no.
func lookUpSpecimen(s *Server, c *call) (*answer, error) {
	asked := api.LookupAsked{Number: c.text("number")}
	if kind := c.text("kind"); kind != "" {
		asked.Kind = &kind
	}
	if collection := c.text("collection"); collection != "" {
		asked.Collection = &collection
	}
	a, err := s.lookUp(c, asked)
	if err != nil {
		return nil, err
	}
	return ok(a)
}

func (s *Server) lookUp(c *call, asked api.LookupAsked) (api.LookupAnswer, error) {
	exact, err := s.store.ByNumber(c.ctx(), c.principal.Institution, asked.Number)
	if err != nil {
		return api.LookupAnswer{}, err
	}
	a := api.LookupAnswer{Asked: asked, Specimens: []api.LookupHit{}, NearSpellings: []api.LookupHit{}, Elsewhere: []api.LookupHit{}}
	for _, n := range exact {
		switch {
		case asked.Kind != nil && n.Kind != *asked.Kind:
		case asked.Collection != nil && deref(n.Collection) != *asked.Collection:
			a.Elsewhere = append(a.Elsewhere, hitOf(n))
		default:
			a.Specimens = append(a.Specimens, hitOf(n))
		}
	}
	a.Answer = answerOf(a.Specimens)
	a.Elsewhere = a.Elsewhere[:min(len(a.Elsewhere), record.MaxNear)]
	if len(a.Specimens) > 0 {
		return a, nil
	}
	return a, s.addNear(c, &a)
}

// addNear lists near spellings when the number itself is not known here.
func (s *Server) addNear(c *call, a *api.LookupAnswer) error {
	near, err := s.store.NearNumbers(c.ctx(), c.principal.Institution, a.Asked.Number)
	if err != nil {
		return err
	}
	spellings := make([]record.Spelling[postgres.Numbered], 0, len(near))
	for _, n := range near {
		spellings = append(spellings, record.Spelling[postgres.Numbered]{Number: n.Number, Of: n})
	}
	for _, spelling := range record.NearSpellings(a.Asked.Number, spellings) {
		a.NearSpellings = append(a.NearSpellings, hitOf(spelling.Of))
	}
	return nil
}

func answerOf(hits []api.LookupHit) api.LookupAnswerAnswer {
	if len(hits) == 0 {
		return "not-known-here"
	}
	for _, h := range hits {
		if h.Treatments > 0 {
			return "recorded"
		}
	}
	return "registered-nothing-recorded"
}

func hitOf(n postgres.Numbered) api.LookupHit {
	return api.LookupHit{Specimen: n.Specimen, Kind: n.Kind, Number: n.Number, Collection: n.Collection,
		Treatments: n.Treatments, LastRecorded: n.LastRecorded}
}
