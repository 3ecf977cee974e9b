package stack_test

import (
	"strings"
	"testing"

	"meniscus/internal/stack"
)

// TestAPlanWithoutAWish leaves what holds parts together, what says which specimen it is and
// barriers, and tells what taking off the coat does to them.
func TestAPlanWithoutAWish(t *testing.T) {
	t.Parallel()
	s := newStack(t, bone(),
		with(put("joint", stack.Joining, "skull/orbit", "1990", of(acetate, "acetone")), loaded(stack.Yes)),
		with(put("number", stack.Labelling, "skull/nasal", "1995", of(isobutyl, "naphtha")), numbered(stack.No)),
		put("barrier", stack.BarrierCoat, "skull/jaw", "1996", of(copolymer, "acetone")),
		coat("coat", "skull", "2010"))
	p := s.Plan(stack.PlanRequest{})
	if got := steps(p); got != "coat" {
		t.Fatalf("got steps %q, want the coat alone", got)
	}
	if got := keptOf(p); got != "joint number barrier" {
		t.Errorf("got %q kept, want the joint, the number and the barrier", got)
	}
	step := p.Steps[0]
	for _, c := range step.Candidates {
		for _, x := range c.Collateral {
			if x.Wanted {
				t.Errorf("%s: got %+v wanted off, want nobody to want it", c.Solvent, x)
			}
		}
	}
	acetone := find(step, "acetone")
	if acetone == nil || acetone.Disturbed < 2 || !strings.Contains(acetone.Disturbs(), "joint of") {
		t.Errorf("got %+v, want acetone to be told to disturb the joint", acetone)
	}
	if got := steps(s.Plan(stack.PlanRequest{Treatments: []string{"joint", "coat"}})); got != "coat joint" {
		t.Errorf("got %q, want the joint to come off when it is named", got)
	}
}

// TestAStepThatSoftensALoadedJoint is blocked, as the check of that removal is.
func TestAStepThatSoftensALoadedJoint(t *testing.T) {
	t.Parallel()
	s := newStack(t, bone(),
		with(put("joint", stack.Joining, "skull", "2024", of(copolymer, "acetone")), loaded(stack.Yes)),
		coat("coat", "skull", "2025"))
	for _, wish := range [][]string{nil, {"coat"}} {
		p := s.Plan(stack.PlanRequest{Treatments: wish})
		if got := steps(p); got != "coat" {
			t.Fatalf("got %q, want the coat alone", got)
		}
		blocked := p.Steps[0].Blocked
		if len(blocked) != 1 || blocked[0].Severity != stack.Block || !strings.Contains(blocked[0].Remedy, "upport") {
			t.Errorf("%v: got %v, want a block until the joint is supported", wish, blocked)
		}
	}
}

// TestWhatLiesUnderWhatStays stays too: all of it under a label, and under a joint what a
// record says lies under it; elsewhere the layer comes off beside what stays.
func TestWhatLiesUnderWhatStays(t *testing.T) {
	t.Parallel()
	label := put("number", stack.Labelling, "skull/nasal", "2000", of(isobutyl, "naphtha"))
	joint := put("joint", stack.Joining, "skull", "2000", of(acetate, "acetone"))
	for name, c := range map[string]struct {
		layers            []stack.Treatment
		steps, kept, save string
	}{
		"under a label":      {[]stack.Treatment{coat("a", "skull/nasal", "1990"), label}, "", "number a", ""},
		"beside a label":     {[]stack.Treatment{coat("a", "skull", "1990"), label}, "a", "number", "number"},
		"over a label":       {[]stack.Treatment{coat("a", "skull/nasal", "2010"), label}, "a", "number", ""},
		"older than a joint": {[]stack.Treatment{coat("a", "skull", "1990"), joint}, "a", "joint", ""},
		"recorded under a joint": {[]stack.Treatment{coat("a", "skull", "1990", relation(stack.Under, "joint")),
			joint}, "", "joint a", ""},
		"a joint that never opens": {[]stack.Treatment{put("joint", stack.Joining, "skull", "2000", of(epoxy))}, "", "", ""},
		"what carries load": {[]stack.Treatment{with(put("fill", stack.Filling, "skull", "2000", of(copolymer, "acetone")),
			loaded(stack.Yes))}, "", "fill", ""},
	} {
		p := newStack(t, bone(), c.layers...).Plan(stack.PlanRequest{})
		except := ""
		if len(p.Steps) > 0 && len(p.Steps[0].Except) > 0 {
			except = p.Steps[0].Except[0].Below
		}
		if steps(p) != c.steps || keptOf(p) != c.kept || except != c.save {
			t.Errorf("%s: got steps %q, kept %q, not under %q, want %q, %q and %q", name, steps(p), keptOf(p), except, c.steps,
				c.kept, c.save)
		}
	}
}

func keptOf(p stack.RemovalPlan) string {
	var ids []string
	for _, k := range p.Kept {
		ids = append(ids, k.Treatment)
	}
	return strings.Join(ids, " ")
}
