package httpapi

import (
	"slices"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/access"
	"meniscus/internal/fault"
	"meniscus/internal/ledger"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
)

// readPlanStatement reads a plan. Whoever lacks the scope to authorise can
// record everything but an authorisation: amending an authorised plan therefore
// asks for it anew. One that was received is read with what it says, and is not
// authorised by that.
func readPlanStatement(s *Server, c *call, _ uuid.UUID, raw []byte) (draft, error) {
	var refs references
	st, err := understand[api.PlanStatement](s, c, raw, &refs)
	if err != nil {
		return draft{}, err
	}
	may := c.principal.May(access.Authorise)
	if (given(st.Authorisation) || given(st.Treatment.Authorisation)) && !may && !c.replay {
		return draft{}, fault.Of(fault.Forbidden, "scope-missing",
			"Authorising a plan needs a key with the scope %q; leave the authorisation out, and let somebody who may authorise it.", string(access.Authorise))
	}
	refs.base = "/treatment"
	treatment := refs.treatment(&st.Treatment)
	if err := refs.faults.Merge(refs.base, treatment.Check()); err != nil {
		return draft{}, err
	}
	refs.base = ""
	refs.authorisation(st.Authorisation, "/authorisation")
	refs.involvements(st.ProposedBy, "/proposedBy")
	refs.date(st.Proposed, "/proposed")
	implied, err := refs.implied(s, c)
	if err != nil {
		return draft{}, err
	}
	treatment.named(&st.Treatment)
	plan := record.Plan{Treatment: treatment.Treatment, Authorised: given(st.Authorisation) && may}
	plan.People = append(plan.People, involved(st.ProposedBy)...)
	statement, err := refs.statement(raw)
	return draft{statement: statement, implied: implied, project: func(p *postgres.Projector) { p.Plan(plan) }}, err
}

func given(a *api.Authorisation) bool { return a != nil && a.Given != nil }

// authorisePlan states a plan anew with who authorised it.
func authorisePlan(s *Server, c *call) (*answer, error) {
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
	var st api.PlanStatement
	words := statementOf(row.Body)
	if words == nil {
		return nil, fault.Of(fault.Conflict, "plan-not-in-force", "The plan was retracted or its words were redacted; there is nothing to authorise.")
	}
	if err := decodeInto(words, &st); err != nil {
		return nil, err
	}
	by := api.AuthorisationGiven{By: c.self(request.By), Date: request.Date, Class: (*api.AuthorisationGivenClass)(&request.Class), Authority: request.Authority}
	st.Authorisation = &api.Authorisation{Given: &by}
	raw, err := encode(st)
	if err != nil {
		return nil, err
	}
	d, err := readPlanStatement(s, c, row.Record, raw)
	if err != nil {
		return nil, err
	}
	reason := "Authorised."
	if request.Reason != nil {
		reason = *request.Reason
	}
	body := slices.Concat([]byte(`{"reason":`), quoted(reason), []byte(`,"statement":`), d.statement, []byte(`}`))
	return s.revise(c, row, ledger.Amended, body, d.project, d.implied)
}

// self is the person named, or the one in whose name the key records.
func (c *call) self(named *api.PersonRef) api.PersonRef {
	if named != nil {
		return *named
	}
	return api.PersonRef{Id: &c.principal.Person}
}
