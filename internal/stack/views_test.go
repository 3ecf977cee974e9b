package stack_test

import (
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"meniscus/internal/edtf"
	"meniscus/internal/material"
	"meniscus/internal/stack"
)

// drawHistory is a history with cases on which views could contradict each other:
// dates that are approximate or missing, baths, removals of every sort, tests
// before and after their layers, and words that may mean several materials.
func drawHistory(t *rapid.T) []stack.Treatment {
	list := drawTreatments(t, 8)
	for i := range list {
		tr := &list[i]
		said := rapid.SampledFrom([]string{
			"", "1960/1980", "1975~", "1988~", "1988?", "1987-12", "1990-05~", "2015-03-04", "2024-11%", "1985/..",
		}).Draw(t, "said")
		if tr.When, tr.Date = when(said), (edtf.Date{}); said != "" {
			tr.Date = edtf.MustParse(said)
		}
		if tr.Removal != nil {
			tr.Removal.Left = rapid.SampledFrom([]stack.LayerState{stack.Reduced, stack.NotDetected, stack.StateUnknown}).Draw(t,
				"rest")
		}
		for j := range tr.Uses {
			if rapid.IntRange(0, 3).Draw(t, "inferred") == 0 {
				tr.Uses[j].Certainty = stack.Inferred
			}
		}
		if rapid.IntRange(0, 2).Draw(t, "exposed") == 0 {
			tr.Exposures = []stack.Exposure{{Solvent: rapid.SampledFrom(someLiquids).Draw(t, "bath")}}
		}
	}
	return list
}

// TestViewsOfOneSpecimenAgree compares what every view says of each layer.
func TestViewsOfOneSpecimenAgree(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		history := drawHistory(t)
		st := stackOf(t, drawSpecimen(t), history)
		v := views{T: t, Stack: st, present: st.Present(), suitable: st.Suitability(), plan: st.Plan(stack.PlanRequest{}),
			reversals: st.Reversibility(), takes: st.TakesOff(), drawn: string(st.Timeline("LV.1"))}
		for i, l := range st.Layers() {
			v.areas(l)
			v.state(l)
			v.undoing(i, l)
			v.certainty(l)
			v.date(l)
		}
		v.tests(history)
		v.removals(history)
		v.hours()
	})
}

type views struct {
	*rapid.T
	*stack.Stack
	present   stack.Presence
	suitable  stack.Suitability
	plan      stack.RemovalPlan
	reversals []stack.Reversal
	takes     []stack.TakenOffBy
	drawn     string
}

// here gives the present state of a layer, by area.
func (v views) here(l *stack.Layer) map[stack.Area]stack.LayerHere {
	found := map[stack.Area]stack.LayerHere{}
	for _, a := range v.present.Areas {
		for _, h := range a.Layers {
			if h.Layer.Treatment == l.Treatment && h.Layer.Index == l.Index {
				found[a.Area] = h
			}
		}
	}
	return found
}

// areas: where the present state has a layer, the layer's own areas, which the
// report, the suitability, the plan and the timeline show, have it too.
func (v views) areas(l *stack.Layer) {
	for a := range v.here(l) {
		if !slices.ContainsFunc(l.Areas, a.Within) && !slices.ContainsFunc(v.present.Areas, func(s stack.AreaState) bool {
			return s.Area == a && slices.ContainsFunc(s.Through, func(u stack.Area) bool { return slices.Contains(l.Areas, u) })
		}) {
			v.Fatalf("the present state has %s on %s, the layer on %v", l.Treatment, a, l.Areas)
		}
	}
	for _, s := range v.plan.Steps {
		if s.Treatment == l.Treatment && !slices.Equal(s.Areas, l.Areas) {
			v.Fatalf("the plan has %s on %v, the layer is on %v", l.Treatment, s.Areas, l.Areas)
		}
	}
	for _, a := range l.Areas {
		for _, u := range v.suitable.Unrecorded {
			if a == u.Area {
				v.Fatalf("%s is on %s, and %s has no record", l.Treatment, a, u.Area)
			}
		}
		if len(l.Areas) < 20 && !strings.Contains(v.drawn, ">"+string(a)+"<") {
			v.Fatalf("%s is on %s, which the timeline does not draw", l.Treatment, a)
		}
	}
}

// state: the state of a layer as a whole is its state in at least one area.
func (v views) state(l *stack.Layer) {
	here := v.here(l)
	if len(here) == 0 {
		return
	}
	for _, h := range here {
		if h.State == l.State {
			return
		}
	}
	v.Fatalf("%s is %s, and in no area: %v", l.Treatment, l.State, here)
}

// undoing: no named liquid dissolves a layer that cannot be redissolved.
func (v views) undoing(i int, l *stack.Layer) {
	if v.reversals[i].Redissolvable.Answer != stack.No {
		return
	}
	for _, s := range v.plan.Steps {
		if s.Treatment != l.Treatment || s.Index != l.Index {
			continue
		}
		for _, c := range s.Candidates {
			if c.Observed == stack.Dissolves && !c.OpensBarrier {
				v.Fatalf("%s cannot be redissolved, and %s dissolves it: %v", l.Treatment, c.Solvent, c)
			}
		}
	}
}

// certainty: a material that is not sure is nowhere shown as if it were.
func (v views) certainty(l *stack.Layer) {
	name := stack.Describe(material.Builtin(), l.Identity)
	doubtful := l.Identity.Named() && (l.Identity.Certainty == stack.Inferred ||
		l.Identity.Certainty == stack.Unidentified || len(l.Identity.Candidates) > 0)
	if doubtful && !strings.HasSuffix(name, ")") {
		v.Fatalf("%v is described as %q", l.Identity, name)
	}
	for _, a := range v.suitable.Analyses {
		for _, b := range slices.Concat(a.Open, lists(a.Bearing)) {
			if b.Role != "" && slices.Contains(b.Layers, l.Treatment) && b.Certainty != l.Identity.Certainty &&
				!v.severalUses(l.Treatment) {
				v.Fatalf("%s is %s, and for %s %s", l.Treatment, l.Identity.Certainty, a.Analysis, b.Certainty)
			}
		}
	}
}

func (v views) severalUses(treatment string) bool {
	n := 0
	for _, l := range v.Layers() {
		if l.Treatment == treatment {
			n++
		}
	}
	return n > 1
}

func lists(bearing []stack.Bearing) []stack.BearingLayers {
	var out []stack.BearingLayers
	for _, b := range bearing {
		out = append(out, b.BearingLayers)
	}
	return out
}

// date: a date keeps its "about".
func (v views) date(l *stack.Layer) {
	if l.Date.Qualified() && !strings.Contains(v.drawn, l.Date.Words()) {
		v.Fatalf("the timeline lacks %q", l.Date.Words())
	}
}

// tests: one that is surely older than its layer is no evidence for it, and the
// answer says so.
func (v views) tests(history []stack.Treatment) {
	for _, t := range history {
		for i, l := range v.Layers() {
			if t.Trial == nil || t.Trial.Layer != l.Treatment || !surelyBefore(t.When, l.When) ||
				stack.Observed(t.Trial.Observed) == stack.NotKnown {
				continue
			}
			for _, e := range v.reversals[i].Redissolvable.Evidence {
				if e.Treatment == t.ID {
					v.Fatalf("test %s is older than layer %s, and evidence for it", t.ID, l.Treatment)
				}
			}
			if !v.contradicts("test-before-layer", t.ID) {
				v.Fatalf("nothing says that test %s is older than layer %s", t.ID, l.Treatment)
			}
		}
	}
}

func (v views) contradicts(code, treatment string) bool {
	return slices.ContainsFunc(v.present.Contradictions, func(c stack.Contradiction) bool {
		return c.Code == code && slices.Contains(c.Treatments, treatment)
	})
}

func surelyBefore(a, b edtf.Period) bool {
	return !a.To.IsZero() && !b.From.IsZero() && a.To.Compare(b.From) < 0
}

// removals: what left an unknown rest did not leave a reduced layer, and a date
// that may be before the removal is no contradiction.
func (v views) removals(history []stack.Treatment) {
	left, began := map[string]stack.LayerState{}, map[string]edtf.Period{}
	for _, t := range history {
		began[t.ID] = t.When
		if t.Removal != nil {
			left[t.ID] = t.Removal.Left
		}
	}
	for _, l := range v.Layers() {
		for _, e := range l.Local {
			if left[e.By] == stack.StateUnknown && e.State == stack.Reduced {
				v.Fatalf("%s left what is not known of %s, which is said to be reduced", e.By, l.Treatment)
			}
		}
	}
	for _, c := range v.present.Contradictions {
		if c.Code != "removal-before-layer" || len(c.Treatments) < 2 || !strings.Contains(c.Sentence, "dated before") {
			continue
		}
		a, b := began[c.Treatments[0]], began[c.Treatments[1]]
		if !surelyBefore(a, b) && !surelyBefore(b, a) {
			v.Fatalf("%v may be in order, and contradict each other", c.Treatments)
		}
	}
}

// hours: unrecorded hours are not zero.
func (v views) hours() {
	for _, x := range v.suitable.Exposures {
		if x.Hours != nil && *x.Hours == 0 {
			v.Fatalf("%s stood on %s for no time, and nobody recorded how long", x.Solvent, x.Area)
		}
	}
}

// TestAboutAYearIsNoContradiction: a coating of about 1988 may have been taken off
// in December 1987; the same of exactly 1988 may not.
func TestAboutAYearIsNoContradiction(t *testing.T) {
	t.Parallel()
	for date, want := range map[string]int{"1988~": 0, "1988?": 0, "1988": 1} {
		st := newStack(t, bone(), put("a", stack.Coating, "skull", date, of(copolymer)),
			off("r", "skull", "1987-12", stack.Reduced, "acetone", "a"))
		if list, _ := st.Contradictions(); len(list) != want {
			t.Errorf("%s: got %v, want %d contradictions", date, list, want)
		}
	}
}
