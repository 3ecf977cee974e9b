package views

import (
	"fmt"
	"slices"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/quantity"
	"meniscus/internal/stack"
)

// Room is a closed room, and what evaporates in it of each liquid of a plan; zero
// where it was not asked for.
type Room struct{ Grams, CubicMetres float64 }

// RemovalPlan tells in which order layers could come off, and with what. Of a brief request it has what
// BriefRemovalPlan leaves, and may lack the rest.
func RemovalPlan(
	asked uuid.UUID, st *stack.Stack, request stack.PlanRequest, known stack.Knowledge, room Room,
) api.RemovalPlan {
	w, cut := newPlanWriter(st, known, room), false
	w.brief = request.Brief
	plan, of := st.Plan(request), aboutOf(st.Specimen())
	out := api.RemovalPlan{
		Specimen: api.Ref(asked), MergedInto: of.mergedInto, Hazards: of.hazards, PassedOn: of.passedOn, At: Day(st.At()),
		Before: each(plan.Before, w.preparation), Steps: each(plan.Steps, w.step), Remaining: int32(plan.Remaining),
		Unreachable: each(plan.Unreachable, w.unreachable), MoreUnreachable: int32(plan.MoreUnreachable),
		Kept: listOrNone(each(plan.Kept, kept)), MoreKept: count(plan.MoreKept),
		AlreadyGone: each(listed(&cut, plan.AlreadyGone, mostListed), gone),
		Questions:   each(plan.Questions, question), MoreQuestions: plan.MoreQuestions,
		Contradictions:     contradictions(listed(&cut, plan.Contradictions, mostListed)),
		MoreContradictions: count(plan.MoreContradictions),
	}
	out.Cautions = of.cautions(cut, append(slices.Clone(plan.Cautions), unrecordedCaution)...)
	gather(&out)
	out.Answer, out.Sources = planAnswer(out, st.WithheldTreatments()), w.texts()
	return out
}

func kept(k stack.KeptLayer) api.UnreachableLayer {
	out := api.UnreachableLayer{Treatment: refOf(k.Treatment), Position: int32(k.Index), Sentence: k.Sentence}
	if k.Under != "" {
		out.Below = new(refOf(k.Under))
	}
	return out
}

func gone(g stack.GoneLayer) api.GoneLayer {
	return api.GoneLayer{
		Treatment: refOf(g.Treatment), Position: int32(g.Index), State: api.LayerState(g.State), Sentence: g.Sentence,
	}
}

func question(q stack.Question) api.LayerPair {
	out := pair(q.Pair)
	out.Question = &q.Sentence
	return out
}

// planWriter renders a plan, with the vapour of each liquid where the room and
// the amount are known.
type planWriter struct {
	layerWriter
	knowledge stack.Knowledge
	room      Room
	listed    *planListed // nil: each step says all
	brief     bool
}

func newPlanWriter(st *stack.Stack, k stack.Knowledge, room Room) planWriter {
	return planWriter{layerWriter: layerWriter{cited: new(cited), st: st}, knowledge: k, room: room,
		listed: &planListed{of: map[candidateKey]listedCandidate{}}}
}

func (w planWriter) step(s stack.Step) api.RemovalStep {
	if w.listed != nil {
		w.listed.step++
	}
	out := api.RemovalStep{
		Treatment: refOf(s.Treatment), Position: int32(s.Index),
		Before: new(each(s.Before, w.preparation)), After: new(each(s.After, w.preparation)),
		Findings: new(each(s.Blocked, w.finding)), Cautions: new(append([]string{}, s.Cautions...)),
	}
	w.say(&out, s)
	if w.brief {
		return out
	}
	layer := w.here(stack.LayerHere{Layer: s.Layer, State: s.Layer.State})
	layer.Areas = listOrNone(areaNames(s.Areas[:min(len(s.Areas), mostAreasOfLayer)]))
	out.Because, out.Layer, out.Expect = said(s.Because), &layer, &s.Expect
	out.Candidates, out.MoreCandidates = new(each(s.Candidates, w.candidate)), count(s.MoreCandidates)
	out.Excluded, out.SpotTest = listOrNone(s.Excluded), &s.SpotTest
	out.Methods, out.Heat = new(each(s.Methods, w.method)), new(w.heat(s.Heat))
	out.Except = listOrNone(each(s.Except, func(x stack.Exception) api.OutOfReachGround {
		return api.OutOfReachGround{Below: refOf(x.Below), Areas: areaNames(x.Areas), MoreAreas: count(x.MoreAreas)}
	}))
	out.MoreExcept = count(s.MoreExcept)
	return out
}

// say puts a step in words: what comes off, and with what.
func (w planWriter) say(out *api.RemovalStep, s stack.Step) {
	text := sentenceCase(w.st.Told(s.Layer)) + " (" + stack.ToldAreas(s.Areas) + "): "
	first := slices.IndexFunc(s.Candidates, func(c stack.Candidate) bool { return !c.Test })
	switch {
	case first >= 0:
		c := s.Candidates[first]
		out.Solvent, out.Test = &c.Solvent, new(false)
		text += c.Name + byBarrier(c) + disturbs(c)
	case len(s.Candidates) > 0:
		out.Solvent, out.Test = &s.Candidates[0].Solvent, new(true)
		text += "only tests to make, the first with " + s.Candidates[0].Name + byBarrier(s.Candidates[0]) +
			disturbs(s.Candidates[0])
	case s.SpotTest:
		text += "no published evidence names a liquid; only a test can tell"
	case len(s.Methods) > 0:
		out.Sentence = text + s.Methods[0].Sentence
		return
	default:
		text += "no liquid is known"
	}
	if n := len(s.Except) + s.MoreExcept; n > 0 {
		text += "; not under " + counted(n, "layer that stays", "layers that stay")
	}
	out.Sentence = text + "."
}

// disturbs says of a liquid what it does to the layers that stay.
func disturbs(c stack.Candidate) string {
	if text := c.Disturbs(); text != "" {
		return ", which " + text
	}
	return ""
}

// byBarrier says of a liquid that it does not act on the layer itself.
func byBarrier(c stack.Candidate) string {
	if c.OpensBarrier {
		return ", which loosens it by the barrier under it and does not act on it"
	}
	return ""
}

func (w planWriter) heat(h stack.HeatChoice) api.HeatChoice {
	return api.HeatChoice{Allowed: h.Allowed, Sentence: h.Sentence, Sources: w.idsOrNone(h.Sources)}
}

func (w planWriter) candidate(x stack.Candidate) api.RemovalCandidate {
	earlier := w.listed.before(x)
	if earlier > 0 {
		x.Backing, x.Why = stack.Backing{}, nil
		x.Collateral = slices.DeleteFunc(slices.Clone(x.Collateral), func(c stack.Collateral) bool { return c.Wanted })
		x.MoreCollateral = x.Disturbed + x.Unknown
		for _, c := range x.Collateral {
			x.MoreCollateral -= c.Count
		}
	}
	out := api.RemovalCandidate{
		Solvent: x.Solvent, Name: x.Name, Observed: api.SeenEffect(x.Observed), Test: x.Test, Why: listOrNone(x.Why),
		Evidence: w.rests(x.Evidence), MoreEvidence: count(x.MoreEvidence),
		Disturbed: int32(x.Disturbed), Unknown: int32(x.Unknown), Harm: int32(x.Harm),
		Hazards: append([]string{}, x.Hazards...), Collateral: each(x.Collateral, collateral),
		MoreCollateral: count(x.MoreCollateral),
	}
	out.OpensBarrier = yes(x.OpensBarrier)
	if out.Vapour = w.vapour(x.Solvent); earlier > 0 {
		out.SameAsStep = &earlier
	}
	return out
}

func collateral(y stack.Collateral) api.Collateral {
	return api.Collateral{
		Role: api.LayerRole(y.Role), Material: y.Material, Observed: api.SeenEffect(y.Observed), Wanted: y.Wanted,
		Possible: y.Possible, Layers: refsOf(y.Layers), Count: int32(y.Count),
	}
}

// vapour is the estimate for a closed room, or nothing where it was not asked
// for.
func (w planWriter) vapour(solvent string) *api.VapourEstimate {
	in, ok := stack.EvaporatedInRoom(w.knowledge, solvent, w.room.Grams, w.room.CubicMetres)
	if !ok {
		return nil
	}
	out := &api.VapourEstimate{
		Concentration: *figureIn(&in.MgPerM3, "mg/m3"), LowerExplosiveLimitShare: figureIn(in.Explosive, "%"),
	}
	out.Sentence = fmt.Sprintf("If %s g evaporated at once in a closed room of %s m³ and mixed evenly; "+
		"at the bench there is more. Ask /v1/compute/vapour for a room with air exchange.",
		quantity.Digits(w.room.Grams, 4), quantity.Digits(w.room.CubicMetres, 4))
	if in.Saturated {
		out.Sentence += " The air cannot hold so much: the figure is that of saturated air."
	}
	return out
}

func (c *cited) preparation(p stack.Preparation) api.PlanPreparation {
	out := api.PlanPreparation{
		Code: api.PlanPreparationCode(p.Code), Layers: listOrNone(refsOf(p.Layers)),
		Count:    countBeyond(p.Count, len(p.Layers)),
		Sentence: p.Sentence, Sources: c.idsOrNone(p.Sources),
	}
	if p.Rule != "" {
		out.Rule = new(api.RuleId(p.Rule))
	}
	return out
}

func (c *cited) unreachable(u stack.Unreachable) api.UnreachableLayer {
	out := api.UnreachableLayer{
		Treatment: refOf(u.Treatment), Position: int32(u.Index), Sentence: u.Sentence, Sources: c.idsOrNone(u.Sources),
	}
	if u.Below != "" {
		out.Below = new(refOf(u.Below))
	}
	return out
}

func (w planWriter) method(m stack.MethodChoice) api.MethodChoice {
	return api.MethodChoice{
		Method: api.Method(m.Method), Sentence: m.Sentence, Sources: w.idsOrNone(m.Sources),
		ReachesPiece: m.ReachesPiece, Touches: count(m.Touches),
	}
}
