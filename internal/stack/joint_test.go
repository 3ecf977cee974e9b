package stack_test

import (
	"strings"
	"testing"

	"meniscus/internal/stack"
)

// A new coat over a joint: what its liquid does to the adhesive decides, and not how
// much resin comes with it. Common practice: a softened joint slumps under its load.
func TestACoatOverAJoint(t *testing.T) {
	coat := func(liquid string, changes ...func(*stack.Treatment)) stack.Treatment {
		return with(with(put("proposed", stack.Coating, "skull", "2026-03-02", strength(30).of(of(copolymer, liquid))),
			climate(20, 40), hours(liquid, 1)), changes...)
	}
	joint := func(load stack.Answer) stack.Treatment {
		return with(put("joint", stack.Joining, "skull", "2025", of(copolymer, "acetone")), loaded(load))
	}
	for _, c := range []struct {
		name     string
		proposed stack.Treatment
		load     stack.Answer
		want     stack.Severity
		says     string
	}{
		{"the joint's own solvent, loaded", coat("acetone"), stack.Yes, stack.Block, "carries load"},
		{"another solvent, loaded", coat("toluene"), stack.Yes, stack.Block, "carries load"},
		{"held up", coat("acetone", supported), stack.Yes, stack.Warn, "to be supported"},
		{"no load", coat("acetone"), stack.No, stack.Warn, "slump"},
		{"load not recorded", coat("acetone"), stack.Unknown, stack.Warn, "not recorded"},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := check(t, newStack(t, bone(), joint(c.load)), c.proposed, stack.CheckConfig{})
			f := aboutLayer(got, "joint", c.says)
			if f == nil || f.Severity != c.want {
				t.Fatalf("got %v in %v, want %s that says %q", f, got.Findings, c.want, c.says)
			}
			if c.want == stack.Block && !(strings.Contains(f.Remedy, "upport") && strings.Contains(f.Remedy, "solvent")) {
				t.Errorf("got the remedy %q, want support or another solvent", f.Remedy)
			}
		})
	}
}

// aboutLayer is the finding on a layer whose sentence has some words.
func aboutLayer(c stack.Checked, layer, says string) *stack.Finding {
	for _, f := range c.Findings {
		for _, l := range f.Layers {
			if l == layer && strings.Contains(f.Sentence, says) {
				return &f
			}
		}
	}
	return nil
}

// TestABathOfWhichNobodyKnowsHowFar reaches the rest of the piece possibly.
func TestABathOfWhichNobodyKnowsHowFar(t *testing.T) {
	bath := with(put("proposed", stack.Cleaning, "skull/nasal", "2026-03-02"), method(stack.Immersion), hours("acetone", 1))
	bath.PartialOpen = true
	got := check(t, newStack(t, bone(), put("coat", stack.Coating, "skull/orbit", "2010", of(copolymer, "acetone"))), bath,
		stack.CheckConfig{})
	if f := aboutLayer(got, "coat", "possibly reached"); f == nil || !f.Possible {
		t.Errorf("got %v, want a finding on the coat that is possibly reached", got.Findings)
	}
}
