package stack_test

import (
	"fmt"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"meniscus/internal/stack"
)

// comesOff is what a history says of one layer: the answers of the present state, the liquids of
// the report, and the plan's step or why there is none.
type comesOff struct {
	layer       *stack.Layer
	reversal    stack.Reversal
	by          stack.TakenOffBy
	step        *stack.Step
	unreachable *stack.Unreachable
}

// comesOffOf asks all views of a stack about each layer; the plan is asked by name about all.
func comesOffOf(s *stack.Stack, treatments []stack.Treatment) []comesOff {
	var names []string
	for _, tr := range treatments {
		names = append(names, tr.ID)
	}
	plan, by := s.Plan(stack.PlanRequest{Treatments: names}), s.TakesOff()
	var out []comesOff
	for i, r := range s.Reversibility() {
		x := comesOff{layer: s.Layers()[i], reversal: r, by: by[i]}
		for j, st := range plan.Steps {
			if st.Treatment == r.Treatment && st.Index == r.Index {
				x.step = &plan.Steps[j]
			}
		}
		for j, u := range plan.Unreachable {
			if u.Treatment == r.Treatment && u.Index == r.Index {
				x.unreachable = &plan.Unreachable[j]
			}
		}
		out = append(out, x)
	}
	return out
}

// disagreements are where the views of one layer contradict each other.
func (x comesOff) disagreements() (out []string) {
	say := func(wrong bool, format string, args ...any) {
		if wrong {
			out = append(out, fmt.Sprintf(format, args...))
		}
	}
	liquids := len(x.by.Named) + len(x.by.Tests)
	say(x.unreachable != nil && x.step != nil, "the plan has it as unreachable and as a step")
	if u := x.unreachable; u != nil {
		say(liquids > 0, "the plan: %q; the report: off with %v, tests %v", u.Sentence, x.by.Named, x.by.Tests)
		say(x.reversal.Removable.Answer == stack.Yes || x.reversal.Removable.Answer == stack.Partial,
			"the plan: %q; the present state: removable %s", u.Sentence, x.reversal.Removable.Answer)
	}
	st := x.step
	if st == nil {
		return out
	}
	var named, tests []string
	for _, c := range st.Candidates {
		if c.Test {
			tests = append(tests, c.Solvent)
		} else {
			named = append(named, c.Solvent)
		}
		redissolves := x.reversal.Redissolvable
		doubted := redissolves.Answer == stack.No || redissolves.Answer == stack.Unknown && redissolves.Contradicted
		say(doubted && c.Observed == stack.Dissolves && !c.Test && !c.OpensBarrier,
			"the plan: %s dissolves it; the present state: redissolvable %s", c.Solvent, redissolves.Answer)
	}
	slices.Sort(named)
	slices.Sort(tests)
	say(st.MoreCandidates == 0 && (!slices.Equal(named, x.by.Named) || !slices.Equal(tests, x.by.Tests)),
		"the plan: off with %v, tests %v; the report: %v, %v", named, tests, x.by.Named, x.by.Tests)
	say(len(st.Except)+st.MoreExcept > 0 && x.reversal.Removable.Answer == stack.Yes,
		"the plan: not everywhere; the present state: removable yes")
	return out
}

// TestWhatComesOffIsSaidAlike: the present state, the report and the plan say the same of each
// layer of a history, and no test that is surely older than its layer decides any of it.
func TestWhatComesOffIsSaidAlike(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		treatments, specimen := drawTreatments(t, 9), drawSpecimen(t)
		all := comesOffOf(stackOf(t, specimen, treatments), treatments)
		for _, x := range all {
			for _, said := range x.disagreements() {
				t.Fatalf("%s.%d (%s): %s", x.layer.Treatment, x.layer.Index, x.layer.Role, said)
			}
		}
		of, related := map[string]stack.Treatment{}, map[string]bool{} // a relation is not what the test saw
		for _, tr := range treatments {
			of[tr.ID] = tr
			for _, r := range tr.Relations {
				related[r.To], related[tr.ID] = true, true
			}
		}
		younger := slices.DeleteFunc(slices.Clone(treatments), func(tr stack.Treatment) bool {
			return tr.Trial != nil && !related[tr.ID] && surelyOlder(tr, of[tr.Trial.Layer])
		})
		kept := comesOffOf(stackOf(t, specimen, younger), treatments)
		for i, x := range all {
			if got, want := x.said(), kept[i].said(); got != want {
				t.Fatalf("with tests older than their layers: %s\nwithout them: %s", got, want)
			}
		}
	})
}

// surelyOlder tells whether one treatment was surely made before another.
func surelyOlder(a, b stack.Treatment) bool {
	return !a.When.To.IsZero() && !b.When.From.IsZero() && a.When.To.Compare(b.When.From) < 0
}

func (x comesOff) said() string {
	said := fmt.Sprintf("%s %+v %+v", x.layer.State, x.reversal, x.by)
	if x.step != nil {
		said += fmt.Sprintf(" %+v %+v", x.step.Candidates, x.step.Cautions)
	}
	if x.unreachable != nil {
		said += x.unreachable.Sentence
	}
	return said
}

// onL is a test of acetone on the layer l.
func onL(date, observed string) stack.Treatment {
	return tried("t", "skull", date, "l", "acetone", observed)
}

// TestWhatComesOffByCase is the matrix: a layer of each sort, each thing that a test may have
// seen, and what may lie over it, with the answers that all views share. What a test saw counts
// where it is not older than the layer; podany-2001 says what lies below a network.
func TestWhatComesOffByCase(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		over             []stack.Treatment
		tests            []stack.Treatment
		material         string
		redissolves, off stack.Answer
		named, reachable bool // a liquid is named, and a step can reach it
	}{
		"by the tables": {nil, nil, copolymer, stack.Yes, stack.Yes, true, true},
		"a network":     {nil, nil, epoxy, stack.No, stack.No, false, false},
		"below a network": {[]stack.Treatment{put("o", stack.Coating, "skull", "2001", of(epoxy))}, nil,
			copolymer, stack.Yes, stack.No, false, false},
		"below a network in part": {[]stack.Treatment{put("o", stack.Coating, "skull/orbit", "2001", of(epoxy))},
			nil, copolymer, stack.Yes, stack.Partial, true, true},
		"beside a network": {[]stack.Treatment{put("o", stack.Coating, "jaw", "2001", of(epoxy))}, nil,
			copolymer, stack.Yes, stack.Yes, true, true},
		"no effect":                 {nil, []stack.Treatment{onL("2005", "no-effect")}, copolymer, stack.Unknown, stack.Unknown, false, true},
		"no effect, an older test":  {nil, []stack.Treatment{onL("1990", "no-effect")}, copolymer, stack.Yes, stack.Yes, true, true},
		"dissolves a network":       {nil, []stack.Treatment{onL("2005", "dissolves")}, epoxy, stack.Yes, stack.Partial, true, true},
		"dissolved a network, once": {nil, []stack.Treatment{onL("1990", "dissolves")}, epoxy, stack.No, stack.No, false, false},
		"swells":                    {nil, []stack.Treatment{onL("2005", "swells")}, copolymer, stack.Partial, stack.Yes, true, true},
	} {
		history := slices.Concat([]stack.Treatment{put("l", stack.Coating, "skull", "2000", of(c.material))}, c.over, c.tests)
		s := newStack(t, bone(), history...)
		all := comesOffOf(s, history)
		x := all[slices.IndexFunc(all, func(x comesOff) bool { return x.layer.Treatment == "l" })]
		if got := x.reversal; got.Redissolvable.Answer != c.redissolves || got.Removable.Answer != c.off {
			t.Errorf("%s: redissolvable %s, removable %s, want %s, %s", name, got.Redissolvable.Answer, got.Removable.Answer,
				c.redissolves, c.off)
		}
		if (len(x.by.Named) > 0) != c.named || (x.step != nil) != c.reachable {
			t.Errorf("%s: off with %v, a step %v, want %v, %v", name, x.by.Named, x.step != nil, c.named, c.reachable)
		}
		for _, said := range x.disagreements() {
			t.Errorf("%s: %s", name, said)
		}
		removal := check(t, s, off("r", "skull", "2026-01-01", stack.Reduced, "acetone", "l"), stack.CheckConfig{})
		warned := len(findings(removal, "removal-below-irreversible-layer")) > 0
		if want := x.unreachable != nil && x.unreachable.Below != "" || c.off == stack.Partial && len(c.over) > 0; warned != want {
			t.Errorf("%s: the check says that it is out of reach: %v, want %v", name, warned, want)
		}
	}
}

// TestANetworkOverABarrier: a liquid that is only a test on the barrier is only a test on what
// the barrier lets go.
func TestANetworkOverABarrier(t *testing.T) {
	t.Parallel()
	for _, barrier := range []string{pvbHigh, copolymer, acetate} {
		history := []stack.Treatment{put("b", stack.BarrierCoat, "skull", "1999", of(barrier)),
			with(put("l", stack.Joining, "skull", "2000", of(epoxy)), relation(stack.Over, "b"))}
		by := map[string]stack.TakenOffBy{}
		for _, x := range comesOffOf(newStack(t, bone(), history...), history) {
			by[x.layer.Treatment] = x.by
			for _, said := range x.disagreements() {
				t.Errorf("%s: %s: %s", barrier, x.layer.Treatment, said)
			}
		}
		if !slices.Equal(by["l"].Named, by["b"].Named) || !slices.Equal(by["l"].Tests, by["b"].Tests) {
			t.Errorf("%s: the joint comes off with %v, the barrier with %v", barrier, by["l"], by["b"])
		}
	}
}
