package views

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/quantity"
	"meniscus/internal/stack"
)

// PresentState tells what is on a specimen, by area and layer; of one area where one is
// named. The sequence number is that of the last entry that was read, or 0.
func PresentState(asked uuid.UUID, st *stack.Stack, area stack.Area, sequence int64) api.PresentState {
	present, of := st.PresentIn(area), aboutOf(st.Specimen())
	cut, names, evidence := present.MoreLayers > 0, mostAreaNames, mostEvidence
	w := layerWriter{cited: new(cited), st: st, reversals: map[layerKey]stack.Reversal{}, cut: &cut, names: &names,
		evidence: &evidence}
	for _, r := range st.Reversibility() {
		w.reversals[layerKey{r.Treatment, r.Index}] = r
	}
	out := api.PresentState{
		Specimen: api.Ref(asked), MergedInto: of.mergedInto, Hazards: of.hazards, PassedOn: of.passedOn, At: Day(st.At()),
		Unplaced:           each(listed(w.cut, toldLayers(present.Unplaced), mostListed), w.here),
		Undetermined:       each(present.Undetermined, pair),
		MoreUndetermined:   present.MoreUndetermined,
		Contradictions:     contradictions(listed(w.cut, present.Contradictions, mostListed)),
		MoreContradictions: count(present.MoreContradictions),
	}
	if sequence > 0 {
		out.Sequence = &sequence
	}
	told := st.Specimen().Withheld == 0
	out.Areas = []api.AreaState{}
	for _, a := range listed(w.cut, present.Areas, mostListed) {
		if told || a.Status != stack.NotRecorded { // what is withheld may be about any area
			out.Areas = append(out.Areas, w.area(a))
		}
	}
	out.Cautions = of.cautions(*w.cut, unrecordedCaution,
		"A removal leaves a layer reduced; nothing is ever shown to be absent.")
	out.Answer, out.Sources = presentAnswer(out, st.WithheldTreatments()), w.texts()
	return out
}

// toldLayers are those that stand for no withheld record.
func toldLayers(list []stack.LayerHere) []stack.LayerHere {
	return slices.DeleteFunc(slices.Clone(list), func(l stack.LayerHere) bool { return l.Layer.Identity.Withheld })
}

// layerWriter renders layers with their answers about undoing.
type layerWriter struct {
	*cited
	st        *stack.Stack
	reversals map[layerKey]stack.Reversal
	cut       *bool
	names     *int // how many areas of layers may still be named; nil: all
	evidence  *int // how much evidence may still be named
}

// mostEvidence is how much evidence an answer names of all layers. Beyond it each of
// their answers has the first, which decides it, and the number of the others.
const mostEvidence = 50_000

// mostAreaNames is how many areas of layers an answer names: each layer has all of its
// areas in each of them.
const mostAreaNames = 200_000

// areas names the areas of a layer that is in several, as many as the answer may still
// name.
func (w layerWriter) areas(all []stack.Area) *[]string {
	if len(all) < 2 || w.names == nil {
		return nil
	}
	named := listed(w.cut, all, min(*w.names, mostAreasOfLayer))
	*w.names -= len(named)
	return listOrNone(areaNames(named))
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
		Area: string(a.Area), Status: api.AreaStateStatus(a.Status), Through: new(areaNames(a.Through)),
		InParts: new(areaNames(listed(w.cut, a.InParts, mostListed))),
		Layers:  each(listed(w.cut, a.Layers, mostListed), w.here),
	}
	out.WithoutLayer = listOrNone(each(a.Other, func(t *stack.Treatment) api.RecordRef { return refOf(t.ID) }))
	out.Examined = examined(a.Examined)
	return out
}

func examined(e *stack.Examined) *api.ExaminedBare {
	if e == nil {
		return nil
	}
	return &api.ExaminedBare{
		Treatment: refOf(e.Treatment), Area: string(e.Area), Dates: dates(e.When, e.Date), How: said(e.How),
		Limit: said(e.Limit),
	}
}

func (w layerWriter) here(here stack.LayerHere) api.PresentLayer {
	l, event := here.Layer, here.Event
	out := api.PresentLayer{
		Treatment: refOf(l.Treatment), Position: int32(l.Index), Role: api.LayerRole(l.Role),
		Material: new(identity(l.Identity)), Dates: new(dates(l.When, l.Date)), State: api.LayerState(here.State),
	}
	out.Areas = w.areas(l.Areas)
	if l.SolventsKnown {
		shares := each(l.Solvents, share)
		out.Solvents = &shares
	}
	out.Strength = Strength(l.Strength)
	if l.Batch != "" {
		out.Batch = new(refOf(l.Batch))
	}
	if l.Drying.State != "" {
		out.Drying = &api.Drying{
			State: api.DryingState(l.Drying.State), Temperature: degrees(l.Drying.TemperatureC),
		}
	}
	if event != nil {
		out.Event = &api.LayerEvent{
			Treatment: refOf(event.By), State: api.LayerState(event.State), Area: string(event.Area),
			Method: said(event.Method), Limit: said(event.Limit), Damage: (*api.DamageKind)(said(event.Damage)),
		}
	}
	if r, ok := w.reversals[layerKey{l.Treatment, l.Index}]; ok {
		out.Reversibility = w.reversibility(r)
	}
	out.Sentence = w.layerSaid(here, out.Reversibility)
	return out
}

// Strength is a layer's, with its expanded uncertainty where one is known.
func Strength(s *stack.Strength) *api.LayerStrength {
	if s == nil {
		return nil
	}
	out := &api.LayerStrength{
		Value: s.Value, Basis: api.StrengthBasis(s.Basis), Origin: api.LayerStrengthOrigin(s.Origin),
	}
	if s.Unit != "" {
		out.Unit = &s.Unit
	}
	if m := (quantity.Measured{Standard: s.Standard}); s.Standard > 0 {
		out.Uncertainty = &api.ComputedUncertainty{
			Standard: quantity.Significant(m.Standard, 10), Expanded: quantity.Significant(m.Expanded(), 10),
			K: quantity.Coverage,
		}
	}
	return out
}

func share(s stack.Share) api.SolventShare {
	out := api.SolventShare{Id: s.Solvent}
	if s.Fraction > 0 {
		if q := figureIn(&s.Fraction, "1"); q != nil {
			out.Fraction = &q.Value
			out.FractionBy = (*api.SolventShareFractionBy)(said(s.By))
		}
	}
	return out
}

func identity(id stack.Identity) api.LayerMaterial {
	ref := func(r stack.Ref) api.MaterialUse { return api.MaterialUse{Id: r.Material, Grade: said(r.Grade)} }
	return api.LayerMaterial{
		Solids: listOrNone(each(id.Solids, ref)), Candidates: listOrNone(each(id.Candidates, ref)),
		Verbatim: said(id.Verbatim), Certainty: api.Certainty(id.Certainty),
	}
}

// undoing renders one answer about a layer.
func (w layerWriter) undoing(x stack.Reasoned) api.Undoing {
	named := x.Evidence
	if len(named) > *w.evidence {
		named = named[:min(len(named), 1)]
	}
	*w.evidence -= min(len(named), *w.evidence)
	return api.Undoing{
		Answer: api.UndoAnswer(x.Answer.String()), Contradicted: x.Contradicted, Evidence: w.rests(named),
		MoreEvidence: count(x.MoreEvidence + len(x.Evidence) - len(named)),
	}
}

func (w layerWriter) reversibility(r stack.Reversal) *api.LayerReversibility {
	return &api.LayerReversibility{
		Redissolvable: w.undoing(r.Redissolvable), Removable: w.undoing(r.Removable),
		Retreatable: w.undoing(r.Retreatable),
		Ageing:      api.LayerReversibilityAgeing(r.Ageing), Cautions: listOrNone(r.Cautions),
	}
}

// layerSaid is a layer in one line: what it is, what is left of it, and whether it could be
// redissolved.
func (w layerWriter) layerSaid(here stack.LayerHere, r *api.LayerReversibility) string {
	text := sentenceCase(w.st.Told(here.Layer)) + ": " + strings.ReplaceAll(string(here.State), "-", " ")
	if e := here.Event; here.State == stack.NotDetected && e != nil {
		text += " (" + stack.LookedBy(e.Method, e.Limit) + ")"
	}
	if e := here.Event; here.State == stack.Damaged && e != nil {
		text += " (" + strings.ReplaceAll(e.Damage, "-", " ") + ")"
	}
	if s := here.Layer.Strength; s != nil {
		text += fmt.Sprintf("; put on at %s %s", quantity.Digits(s.Value, 3), cmp.Or(s.Unit, "on an unknown basis"))
	}
	if r != nil {
		text += "; redissolves: " + string(r.Redissolvable.Answer)
	}
	return text + "."
}

// presentAnswer is the present state in a sentence or two; withheld are the treatments of which it is
// not told what they left.
func presentAnswer(p api.PresentState, withheld int) string {
	with, bare := 0, 0
	layers := map[api.RecordRef]map[int32]bool{}
	add := func(list []api.PresentLayer) {
		for _, l := range list {
			if layers[l.Treatment] == nil {
				layers[l.Treatment] = map[int32]bool{}
			}
			layers[l.Treatment][l.Position] = true
		}
	}
	for _, a := range p.Areas {
		add(a.Layers)
		switch a.Status {
		case "layers":
			with++
		case "not-recorded":
			bare++
		}
	}
	add(p.Unplaced)
	n := 0
	for _, of := range layers {
		n += len(of)
	}
	text := "No layer is recorded."
	if withheld > 0 {
		text = "No layer is told here."
	}
	if n > 0 {
		text = fmt.Sprintf("%s on %s.", counted(n, "layer is recorded", "layers are recorded"), counted(with, "area", "areas"))
	}
	if len(p.Unplaced) > 0 {
		text += fmt.Sprintf(" For %d the place is not known.", len(p.Unplaced))
	}
	if bare > 0 {
		text += fmt.Sprintf(" Nothing is recorded of %s, which does not mean untreated.", counted(bare, "area", "areas"))
	}
	if withheld > 0 {
		text += " " + leftUntold(withheld)
	}
	return text
}

// leftUntold says of how many treatments it is not told what they left.
func leftUntold(withheld int) string {
	return fmt.Sprintf("What %s left is withheld here.", counted(withheld, "treatment", "treatments"))
}
