package httpapi

import (
	"strings"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/edtf"
	"meniscus/internal/layers"
	"meniscus/internal/postgres"
	"meniscus/internal/stack"
)

// proposedID stands for a treatment that has no record yet.
var proposedID = uuid.Nil.String()

// checkTreatment looks at a proposed treatment; nothing is stored.
func checkTreatment(s *Server, c *call) (*answer, error) {
	request, err := decode[api.TreatmentCheckRequest](c)
	if err != nil {
		return nil, err
	}
	refs := references{base: "/treatment"}
	treatment := refs.treatment(&request.Treatment)
	if err := refs.faults.Merge(refs.base, treatment.Check()); err != nil {
		return nil, err
	}
	implied, err := refs.resolve(c.ctx(), s, c.principal.Institution)
	if err != nil {
		return nil, err
	}
	known := !registers(implied, request.Treatment.Specimen.Id)
	checked, err := s.check(c, &request, known)
	if err != nil {
		return nil, err
	}
	cut := false
	out := api.TreatmentCheck{
		Blocked: checked.Blocked(), Findings: wireFindings(checked.Findings), Cleared: each(checked.Cleared, wireCleared),
		Contradictions: wireContradictions(listed(&cut, checked.Contradictions, mostListed)), MoreContradictions: count(checked.MoreContradictions),
	}
	out.Cautions = cautions(cut, generalCaution, unrecordedCaution)
	if known {
		out.Specimen = request.Treatment.Specimen.Id
	}
	return ok(out)
}

// registers tells whether the specimen is only implied: not on record yet.
func registers(implied []postgres.Entry, id *uuid.UUID) bool {
	for _, e := range implied {
		if id != nil && e.Record == *id {
			return true
		}
	}
	return false
}

// check loads what the treatment meets and looks.
func (s *Server) check(c *call, request *api.TreatmentCheckRequest, known bool) (stack.Checked, error) {
	base, err := s.knowledge(c)
	if err != nil {
		return stack.Checked{}, err
	}
	at := today()
	if request.At != nil {
		at = edtf.DayOf(request.At.Time)
	}
	config := stack.Config{Knowledge: base, At: at}
	if known {
		specimen, err := s.store.Survivor(c.ctx(), c.principal.Institution, *request.Treatment.Specimen.Id)
		if err != nil {
			return stack.Checked{}, err
		}
		if config, _, err = s.history(c, specimen, base, at); err != nil {
			return stack.Checked{}, err
		}
	}
	proposed, err := layers.Proposed(c.ctx(), s.store, c.principal.Institution, proposedID, &request.Treatment, base, at)
	if err != nil {
		return stack.Checked{}, err
	}
	st, err := stack.New(config)
	if err != nil {
		return stack.Checked{}, err
	}
	tuning, err := s.TuningOf(c.ctx(), c.principal.Institution)
	if err != nil {
		return stack.Checked{}, err
	}
	return st.Check(proposed, stack.CheckConfig{Tuning: tuning, Overrides: each(deref(request.Overrides), func(o api.BlockOverride) stack.Override {
		return stack.Override{Rule: o.Rule, Reason: strings.TrimSpace(o.Reason)}
	})})
}

func wireCleared(x stack.Cleared) api.ClearedMatter {
	return api.ClearedMatter{
		Rule: x.Rule, Layers: listOrNone(wireIDs(x.Layers)), Count: count(x.Count), Sentence: x.Sentence, Source: said(x.Source),
		Evidence: listOrNone(wireEvidence(x.Evidence)),
	}
}
