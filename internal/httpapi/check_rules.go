package httpapi

import (
	"strings"
	"time"

	"meniscus/api"
	"meniscus/internal/access"
	"meniscus/internal/fault"
	"meniscus/internal/postgres"
	"meniscus/internal/stack"
)

// listCheckRules tells every rule that a treatment is checked by, with the
// institution's own severities when a key that may read was sent.
func listCheckRules(s *Server, c *requestContext) (*answer, error) {
	base, err := s.knowledge(c)
	if err != nil {
		return nil, err
	}
	own := map[string]postgres.RuleTuning{}
	if c.principal != nil && c.principal.May(access.Read) {
		chosen, err := c.tenant().RuleTunings(c.ctx())
		if err != nil {
			return nil, err
		}
		for _, t := range chosen {
			own[t.Rule] = t
		}
	}
	a, err := ok(api.CheckRuleList{Items: each(stack.Rules(), func(r stack.Rule) api.CheckRule {
		return wireRule(base, r, own)
	})})
	return c.shared(a, err)
}

func wireRule(k stack.Knowledge, r stack.Rule, own map[string]postgres.RuleTuning) api.CheckRule {
	out := api.CheckRule{
		Rule: api.RuleId(r.ID), Severity: api.Severity(r.Severity), Condition: r.Condition, Remedy: r.Remedy,
		Source: r.Cited(k).Text(), Status: api.ValueStatus(r.Status),
	}
	if t, ok := own[r.ID]; ok && t.Severity != string(r.Severity) {
		out.Own = &api.OwnSeverity{
			Severity: api.Severity(t.Severity), Reason: t.Reason, By: api.Ref(t.By), At: t.At.UTC().Truncate(time.Microsecond),
		}
	}
	return out
}

// tuneCheckRule keeps the institution's own severity of a rule.
func tuneCheckRule(s *Server, c *requestContext) (*answer, error) {
	request, err := decode[api.RuleTuning](c)
	if err != nil {
		return nil, err
	}
	rule, _ := stack.RuleByID(c.echo.Param("rule")) // the contract lets no other name through
	if strings.TrimSpace(request.Reason) == "" {
		return nil, fault.New("tuning-reason-missing", "/reason",
			"Say why the severity is changed; the reason stands beside every finding of the rule.")
	}
	t := postgres.RuleTuning{
		Rule: rule.ID, Severity: string(request.Severity), Reason: strings.TrimSpace(request.Reason), By: c.principal.Person,
	}
	if err := c.tenant().TuneRule(c.ctx(), newRequestID(), t); err != nil {
		return nil, err
	}
	chosen, err := c.tenant().RuleTunings(c.ctx())
	if err != nil {
		return nil, err
	}
	own := map[string]postgres.RuleTuning{}
	for _, t := range chosen {
		own[t.Rule] = t
	}
	base, err := s.knowledge(c)
	if err != nil {
		return nil, err
	}
	return ok(wireRule(base, rule, own))
}
