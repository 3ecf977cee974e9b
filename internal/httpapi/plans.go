package httpapi

import (
	"meniscus/api"
	"meniscus/internal/fault"
	"meniscus/internal/record"
	"meniscus/internal/statement"
)

// authorisePlan states a plan anew with who authorised it.
func authorisePlan(s *Server, c *requestContext) (*answer, error) {
	request, err := decode[api.AuthorisePlanRequest](c)
	if err != nil {
		return nil, err
	}
	row, err := s.matched(c, c.id("planId"))
	if err != nil {
		return nil, err
	}
	if row.Kind != record.KindPlan {
		return nil, fault.Of(fault.NotFound, "plan-unknown", "There is no such plan in this institution.")
	}
	words := statement.WordsIn(row.Body)
	if words == nil {
		return nil, fault.Of(fault.Conflict, "plan-not-in-force",
			"The plan was retracted or its words were redacted; there is nothing to authorise.")
	}
	given := api.AuthorisationGiven{
		By: c.self(request.By), Date: request.Date,
		Class: (*api.AuthorisationGivenClass)(&request.Class), Authority: request.Authority,
	}
	words, err = statement.With(words, "authorisation", api.Authorisation{Given: &given})
	if err != nil {
		return nil, err
	}
	d, err := c.author().Understand(c.ctx(), record.KindPlan, row.Record, words)
	if err != nil {
		return nil, err
	}
	reason := "Authorised."
	if request.Reason != nil {
		reason = *request.Reason
	}
	return s.amend(c, row, amendment{Reason: reason, before: row.Body}, d)
}

// self is the person named, or the one in whose name the key records.
func (c *requestContext) self(named *api.PersonRef) api.PersonRef {
	if named != nil {
		return *named
	}
	return api.PersonRef{Id: &c.principal.Person}
}
