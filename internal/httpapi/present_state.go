package httpapi

import (
	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/layers"
	"meniscus/internal/stack"
)

// readPresentState tells what is on a specimen, by area and layer.
func readPresentState(s *Server, c *requestContext) (*answer, error) {
	st, place, err := s.stackOf(c)
	if err != nil {
		return nil, err
	}
	present, about := st.PresentIn(stack.Area(c.text("area"))), aboutOf(st.Specimen())
	cut, names := present.MoreLayers > 0, mostAreaNames
	w := layerWriter{reversals: map[layerKey]stack.Reversal{}, cut: &cut, names: &names}
	for _, r := range st.Reversibility() {
		w.reversals[layerKey{r.Treatment, r.Index}] = r
	}
	out := api.PresentState{
		Specimen: c.id("specimenId"), MergedInto: about.mergedInto, Hazards: about.hazards, PassedOn: about.passedOn, At: wireDay(st.At()), Areas: []api.AreaState{},
		Unplaced:     each(listed(w.cut, present.Unplaced, mostListed), w.here),
		Undetermined: wirePairs(present.Undetermined), MoreUndetermined: present.MoreUndetermined,
		Contradictions: wireContradictions(listed(w.cut, present.Contradictions, mostListed)), MoreContradictions: count(present.MoreContradictions),
	}
	if place > 0 {
		out.Place = &place
	}
	for _, a := range listed(w.cut, present.Areas, mostListed) {
		out.Areas = append(out.Areas, w.area(a))
	}
	out.Cautions = about.cautions(*w.cut, unrecordedCaution, "A removal leaves a layer reduced; nothing is ever shown to be absent.")
	return whole(st, out)
}

// layerWriter renders layers with their answers about undoing.
type layerWriter struct {
	reversals map[layerKey]stack.Reversal
	cut       *bool
	names     *int // how many areas of layers may still be named; nil: all
}

// mostAreaNames is how many areas of layers an answer names: each layer has all of its
// areas in each of them.
const mostAreaNames = 200_000

// areas names the areas of a layer that is in several, so many as may be.
func (w layerWriter) areas(all []stack.Area) *[]string {
	if len(all) < 2 || w.names == nil {
		return nil
	}
	named := listed(w.cut, all, min(*w.names, mostAreasOfLayer))
	*w.names -= len(named)
	return listOrNone(wireAreas(named))
}

// mostAreasOfLayer is how many areas of one layer the contract holds.
const mostAreasOfLayer = 2000

// layerKey is which layer of which treatment.
type layerKey struct {
	treatment string
	index     int
}

func (w layerWriter) area(a stack.AreaState) api.AreaState {
	out := api.AreaState{
		Area: string(a.Area), Status: api.AreaStateStatus(a.Status), Through: wireAreas(a.Through), InParts: wireAreas(listed(w.cut, a.InParts, mostListed)),
		Layers: each(listed(w.cut, a.Layers, mostListed), w.here),
	}
	out.WithoutLayer = listOrNone(each(a.Other, func(t *stack.Treatment) uuid.UUID { return wireID(t.ID) }))
	if a.Examined != nil {
		out.Examined = wireExamined(a.Examined)
	}
	return out
}

func wireExamined(e *stack.Examined) *api.ExaminedBare {
	if e == nil {
		return nil
	}
	return &api.ExaminedBare{Treatment: wireID(e.Treatment), Area: string(e.Area), Dates: wireDates(e.When, e.Date), How: said(e.How)}
}

func (w layerWriter) here(here stack.LayerHere) api.PresentLayer {
	l, event := here.Layer, here.Event
	out := api.PresentLayer{
		Treatment: wireID(l.Treatment), Position: int32(l.Index), Role: api.LayerRole(l.Role), Material: wireIdentity(l.Identity),
		Dates: wireDates(l.When, l.Date), State: api.LayerState(here.State),
	}
	out.Areas = w.areas(l.Areas)
	if l.SolventsKnown {
		shares := each(l.Solvents, wireShare)
		out.Solvents = &shares
	}
	out.Strength = layers.Strength(l.Strength)
	if l.Batch != "" {
		id := wireID(l.Batch)
		out.Batch = &id
	}
	if l.Drying.State != "" {
		out.Drying = &api.Drying{State: api.DryingState(l.Drying.State), Temperature: degrees(l.Drying.TemperatureC)}
	}
	if event != nil {
		out.Event = &api.LayerEvent{Treatment: wireID(event.By), State: api.LayerState(event.State), Area: string(event.Area), Method: said(event.Method), Limit: said(event.Limit)}
	}
	if r, ok := w.reversals[layerKey{l.Treatment, l.Index}]; ok {
		out.Reversibility = wireReversal(r)
	}
	return out
}

func wireShare(s stack.Share) api.SolventShare {
	out := api.SolventShare{Id: s.Solvent}
	if s.Fraction > 0 {
		if q := figureIn(&s.Fraction, "1"); q != nil {
			out.Fraction = &q.Value
			out.FractionBy = (*api.SolventShareFractionBy)(said(s.By))
		}
	}
	return out
}

func wireIdentity(id stack.Identity) api.LayerMaterial {
	ref := func(r stack.Ref) api.MaterialUse { return api.MaterialUse{Id: r.Material, Grade: said(r.Grade)} }
	return api.LayerMaterial{
		Solids: listOrNone(each(id.Solids, ref)), Candidates: listOrNone(each(id.Candidates, ref)), Verbatim: said(id.Verbatim),
		Certainty: api.Certainty(id.Certainty),
	}
}

func wireReversal(r stack.Reversal) *api.LayerReversibility {
	undoing := func(x stack.Reasoned) api.Undoing {
		return api.Undoing{Answer: api.UndoAnswer(x.Answer.String()), Evidence: wireEvidence(x.Evidence), Contradicted: x.Contradicted}
	}
	return &api.LayerReversibility{
		Redissolvable: undoing(r.Redissolvable), Removable: undoing(r.Removable), Retreatable: undoing(r.Retreatable),
		Ageing: api.LayerReversibilityAgeing(r.Ageing), Cautions: listOrNone(r.Cautions),
	}
}
