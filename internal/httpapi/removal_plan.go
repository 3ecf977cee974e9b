package httpapi

import (
	"slices"

	"fmt"
	"strings"

	"meniscus/api"
	"meniscus/internal/fault"
	"meniscus/internal/quantity"
	"meniscus/internal/stack"
)

// planRemoval tells in which order layers could come off, and with what.
func planRemoval(s *Server, c *requestContext) (*answer, error) {
	st, _, err := s.stackOf(c)
	if err != nil {
		return nil, err
	}
	var request stack.PlanRequest
	if text := c.text("treatments"); text != "" {
		request.Treatments = strings.Split(text, ",")
		if err := c.ofSpecimen(st, request.Treatments); err != nil {
			return nil, err
		}
	}
	base, err := s.knowledge(c)
	if err != nil {
		return nil, err
	}
	grams, _ := c.query["evaporatedGrams"].(float64)
	room, _ := c.query["roomVolume"].(float64)
	w := newPlanWriter(base, grams, room)
	plan, about, cut := st.Plan(request), aboutOf(st.Specimen()), false
	out := api.RemovalPlan{
		Specimen: c.id("specimenId"), MergedInto: about.mergedInto, Hazards: about.hazards, PassedOn: about.passedOn, At: wireDay(st.At()), Before: each(plan.Before, wirePreparation), Steps: each(plan.Steps, w.step),
		Unreachable: each(plan.Unreachable, wireUnreachable), MoreUnreachable: int32(plan.MoreUnreachable),
		AlreadyGone: each(listed(&cut, plan.AlreadyGone, mostListed), func(g stack.GoneLayer) api.GoneLayer {
			return api.GoneLayer{Treatment: wireID(g.Treatment), Position: int32(g.Index), State: api.LayerState(g.State), Sentence: g.Sentence}
		}),
		Questions: each(plan.Questions, func(q stack.Question) api.LayerPair {
			p := wirePairs([]stack.Pair{q.Pair})[0]
			p.Question = &q.Sentence
			return p
		}),
		MoreQuestions: plan.MoreQuestions, Contradictions: wireContradictions(listed(&cut, plan.Contradictions, mostListed)),
		MoreContradictions: count(plan.MoreContradictions), Remaining: int32(plan.Remaining),
	}
	out.Cautions = about.cautions(cut, append(slices.Clone(plan.Cautions), unrecordedCaution)...)
	return whole(st, out)
}

// ofSpecimen refuses treatments that are not on the specimen.
func (c *requestContext) ofSpecimen(st *stack.Stack, ids []string) error {
	for _, id := range ids {
		if !st.Has(id) {
			return &fault.Fault{Kind: fault.NotFound, Code: "treatment-not-on-specimen", Parameter: "treatments",
				Detail: "One of these treatments is not recorded on this specimen on the day that is asked about."}
		}
	}
	return nil
}

// planWriter renders a plan, with the vapour of each liquid where the room and
// the amount are known.
type planWriter struct {
	knowledge   stack.Knowledge
	grams, room float64
	listed      *planListed // nil: each step says all
}

func newPlanWriter(k stack.Knowledge, grams, room float64) planWriter {
	return planWriter{k, grams, room, &planListed{of: map[candidateKey]listedCandidate{}, said: map[string]bool{}}}
}

func (w planWriter) step(s stack.Step) api.RemovalStep {
	if w.listed != nil {
		w.listed.step++
	}
	out := api.RemovalStep{
		Treatment: wireID(s.Treatment), Position: int32(s.Index), Layer: layerWriter{}.here(stack.LayerHere{Layer: s.Layer, State: s.Layer.State}), Because: said(s.Because),
		Candidates: each(s.Candidates, w.candidate), Excluded: listOrNone(s.Excluded), SpotTest: s.SpotTest, Methods: each(s.Methods, w.method),
		Heat:   api.HeatChoice{Allowed: s.Heat.Allowed, Sentence: s.Heat.Sentence, Source: w.listed.source(s.Heat.Sentence, s.Heat.Source)},
		Before: each(s.Before, wirePreparation), After: each(s.After, wirePreparation), Expect: s.Expect,
		Findings: wireFindings(s.Blocked), Cautions: each(s.Cautions, func(t string) string { return t }),
	}
	out.Layer.Areas = listOrNone(wireAreas(s.Areas[:min(len(s.Areas), mostAreasOfLayer)]))
	out.Except = listOrNone(each(s.Except, func(x stack.Exception) api.OutOfReachGround {
		return api.OutOfReachGround{Below: wireID(x.Below), Areas: wireAreas(x.Areas)}
	}))
	out.MoreExcept = count(s.MoreExcept)
	return out
}

func (w planWriter) candidate(x stack.Candidate) api.RemovalCandidate {
	earlier := w.listed.before(x)
	if earlier > 0 {
		x.Evidence, x.Why = nil, nil
		x.Collateral = slices.DeleteFunc(slices.Clone(x.Collateral), func(c stack.Collateral) bool { return c.Wanted })
	}
	out := api.RemovalCandidate{
		Solvent: x.Solvent, Name: x.Name, Observed: api.SeenEffect(x.Observed), Test: x.Test, Why: listOrNone(x.Why), Evidence: wireEvidence(x.Evidence),
		Disturbed: int32(x.Disturbed), Unknown: int32(x.Unknown), Harm: int32(x.Harm), Hazards: each(x.Hazards, func(h string) string { return h }),
		Collateral: each(x.Collateral, func(y stack.Collateral) api.Collateral {
			return api.Collateral{
				Role: api.LayerRole(y.Role), Material: y.Material, Observed: api.SeenEffect(y.Observed), Wanted: y.Wanted, Possible: y.Possible,
				Layers: wireIDs(y.Layers), Count: int32(y.Count),
			}
		}),
	}
	out.OpensBarrier = yes(x.OpensBarrier)
	if out.Vapour = w.vapour(x.Solvent); earlier > 0 {
		out.SameAsStep = &earlier
	}
	return out
}

// vapour is the estimate for a closed room, or nothing where it was not asked
// for.
func (w planWriter) vapour(solvent string) *api.VapourEstimate {
	in, ok := stack.EvaporatedInRoom(w.knowledge, solvent, w.grams, w.room)
	if !ok {
		return nil
	}
	out := &api.VapourEstimate{Concentration: *figureIn(&in.MgPerM3, "mg/m3"), LowerExplosiveLimitShare: figureIn(in.Explosive, "%")}
	out.Sentence = fmt.Sprintf("If %s g evaporated at once in a closed room of %s m³ and mixed evenly; at the bench there is more. Ask /v1/compute/vapour for a room with air exchange.",
		quantity.Digits(w.grams, 4), quantity.Digits(w.room, 4))
	if in.Saturated {
		out.Sentence += " The air cannot hold so much: the figure is that of saturated air."
	}
	return out
}

func wirePreparation(p stack.Preparation) api.PlanPreparation {
	return api.PlanPreparation{
		Code: api.PlanPreparationCode(p.Code), Layers: listOrNone(wireIDs(p.Layers)), Count: countBeyond(p.Count, len(p.Layers)), Sentence: p.Sentence,
		Rule: said(p.Rule), Source: said(p.Source),
	}
}

func wireUnreachable(u stack.Unreachable) api.UnreachableLayer {
	out := api.UnreachableLayer{Treatment: wireID(u.Treatment), Position: int32(u.Index), Sentence: u.Sentence, Source: said(u.Source)}
	if u.Below != "" {
		id := wireID(u.Below)
		out.Below = &id
	}
	return out
}

func (w planWriter) method(m stack.MethodChoice) api.MethodChoice {
	return api.MethodChoice{Method: api.Method(m.Method), Sentence: m.Sentence, Source: w.listed.source(m.Sentence, m.Source), ReachesPiece: m.ReachesPiece, Touches: count(m.Touches)}
}
