package stack_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"meniscus/internal/stack"
)

// TestFailedBarrier: poly(isobutyl methacrylate) failed under epoxy in strength
// and in reversal; the acrylic copolymer at 17 % and poly(vinyl butyral) at 10 %
// in ethanol held (Ellis and Heginbotham, Journal of the American Institute for
// Conservation 43(1), 2004; Podany and others, the same journal 40(1), 2001).
func TestFailedBarrier(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name    string
		barrier stack.Use
		blocked bool
	}{
		{"isobutyl methacrylate", strength(17).of(of(isobutyl, "white-spirit-stoddard-solvent")), true},
		{"acrylic copolymer", strength(17).of(of(copolymer, "acetone")), false},
		{"poly(vinyl butyral)", strength(10).of(of(pvbHigh, "ethanol")), false},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			s := newStack(t, bone(), put("barrier", stack.BarrierCoat, "skull", "2026-01", c.barrier))
			got := check(t, s, join(of(epoxy)), stack.CheckConfig{})
			if got.Blocked() != c.blocked {
				t.Errorf("got blocked %v (%v), want %v", got.Blocked(), got.Findings, c.blocked)
			}
			if c.blocked && !strings.Contains(string(findings(got, "reacting-resin-without-barrier")[0].Sources), "2004") {
				t.Errorf("got source %q, want the paper of 2004", findings(got, "reacting-resin-without-barrier")[0].Sources)
			}
		})
	}
}

// TestBarrierOpensEpoxy: over a removable barrier at both faces, the barrier's
// solvent opens the joint (Podany 2001); without one the stone fails first.
func TestBarrierOpensEpoxy(t *testing.T) {
	t.Parallel()
	barrier := put("barrier", stack.BarrierCoat, "skull", "2020-01", of(copolymer, "acetone"))
	joint := put("joint", stack.Joining, "skull", "2021", of(epoxy))
	over := newStack(t, bone(), barrier, joint)
	if got := reversal(t, over, "joint"); got.Removable.Answer != stack.Yes || got.Redissolvable.Answer != stack.No {
		t.Errorf("over a barrier: got removable %v, redissolvable %v, want yes and no", got.Removable.Answer,
			got.Redissolvable.Answer)
	}
	plan := over.Plan(stack.PlanRequest{Treatments: []string{"joint"}})
	if len(plan.Unreachable) > 0 || len(plan.Steps) != 1 || !hasCandidate(plan.Steps[0], "acetone") {
		t.Errorf("over a barrier: got steps %v, unreachable %v, want one step with the barrier's solvent", plan.Steps,
			plan.Unreachable)
	}
	bare := newStack(t, bone(), joint)
	if got := reversal(t, bare, "joint"); got.Removable.Answer != stack.No || got.Retreatable.Answer != stack.No {
		t.Errorf("without: got removable %v, retreatable %v, want no and no", got.Removable.Answer, got.Retreatable.Answer)
	}
	if plan := bare.Plan(stack.PlanRequest{}); len(plan.Steps) != 0 || len(plan.Unreachable) != 1 {
		t.Errorf("without: got steps %v, unreachable %v, want the joint unreachable", plan.Steps, plan.Unreachable)
	}
}

// TestTwoGradesInAcetone: acetone dissolves lower-hydroxyl poly(vinyl butyral)
// and not the higher-hydroxyl grade (Goldberg and Davidson, poster, Society of
// Vertebrate Paleontology, 2014; that it swells the latter is recalled). An
// unrecorded grade is taken as the one that dissolves.
func TestTwoGradesInAcetone(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ material, rule, verb string }{
		{pvbLow, "known-solvent-of-earlier-layer", "dissolves"}, {pvbHigh, "solvent-reaches-earlier-layer", "swells"}, {"poly-vinyl-butyral", "solvent-reaches-earlier-layer", "dissolves"},
	} {
		s := newStack(t, bone(), put("old", stack.Coating, "skull", "2024", of(c.material, "ethanol")))
		got := findings(check(t, s, resin("acetone"), stack.CheckConfig{}), c.rule)
		if len(got) != 1 || !strings.Contains(got[0].Sentence, c.verb) {
			t.Errorf("%s: got %v, want %s saying %q", c.material, got, c.rule, c.verb)
		}
	}
	if got := candidateOf(t, pvbHigh, "2024", "acetone"); got != nil && !got.Test {
		t.Errorf("got %v for the higher-hydroxyl grade, want acetone to be a test at most", got)
	}
}

// TestJointsInAWarmStore: joints of the acrylic copolymer are sound from −10 to
// 35 °C (Koob, Conservation DistList 19:29, 2005); joints of poly(vinyl acetate)
// slumped within a year of hot storage (site conservation blog, 2011), and no
// temperature was published up to which they hold.
func TestJointsInAWarmStore(t *testing.T) {
	t.Parallel()
	acrylic := put("acrylic", stack.Joining, "skull", "2010", of(copolymer, "acetone"))
	vinyl := put("vinyl", stack.Joining, "jaw", "1990", of(acetate, "acetone"))
	if got := newStack(t, bone(), acrylic).Travel(); !got.Known || *got.AtMost != 35 || *got.AtLeast != -10 {
		t.Errorf("got %+v, want −10 to 35 °C", got)
	}
	both := newStack(t, bone(), acrylic, vinyl).Travel()
	if both.Known || both.AtMost == nil || *both.AtMost != 35 || !strings.Contains(both.Sentence, "Unknown") {
		t.Errorf("got %+v, want unknown, bounded by 35 °C", both)
	}
	if !slices.ContainsFunc(both.Layers[0].Limit.Cautions, func(c string) bool { return strings.Contains(c, "slumped") }) {
		t.Errorf("got cautions %v, want that such joints slumped", both.Layers[0].Limit.Cautions)
	}
	if got := newStack(t, bone()).Travel(); got.Known || got.AtMost != nil {
		t.Errorf("nothing recorded: got %+v, want unknown", got)
	}
	young := newStack(t, bone(), put("new", stack.Joining, "skull", "2026-02-25", of(copolymer, "acetone"))).Travel()
	if young.Known || young.AtMost != nil {
		t.Errorf("five days old: got %+v, want unknown", young)
	}
}

// TestHoursOfSolventOnBone: under 48 h of acetone moved neither δ13C nor δ15N of
// collagen, over 48 h of polar solvent did; phosphate δ18O stayed (study of
// consolidants and their removal by polar solvents on bone, abstract). The hours
// add up over treatments.
func TestHoursOfSolventOnBone(t *testing.T) {
	t.Parallel()
	first := with(put("first", stack.Consolidation, "skull", "2024", of(copolymer, "acetone")), hours("acetone", 30))
	second := with(off("second", "skull", "2025", stack.Reduced, "", "first"), hours("acetone", 17.5))
	s := newStack(t, bone(), first, second)
	if got := applies(s, "collagen-isotopes", "d13C lowered"); got != stack.No {
		t.Errorf("47.5 h: got %v, want no", got)
	}
	third := with(put("third", stack.Cleaning, "skull", "2025"), hours("ethanol", 1))
	s = newStack(t, bone(), first, second, third)
	for effect, want := range map[string]stack.Answer{"d13C lowered": stack.Yes, "d15N raised": stack.Yes} {
		if got := applies(s, "collagen-isotopes", effect); got != want {
			t.Errorf("48.5 h, %s: got %v, want %v", effect, got, want)
		}
	}
	unsaid := put("third", stack.Cleaning, "skull", "2025")
	s = newStack(t, bone(), first, second, unsaid,
		with(put("fourth", stack.Coating, "skull", "2025", of(acetate, "acetone"))))
	if got := applies(s, "collagen-isotopes", "d13C lowered"); got != stack.Unknown {
		t.Errorf("some hours not recorded: got %v, want unknown", got)
	}
}

// TestVinylAcetateDoesNotWashOut: no protocol fully removed any vinyl acetate
// product, even from an inert carrier (Brock and others, Radiocarbon 60(1),
// 2018), although under 48 h of acetone cleared it from bone in another study.
func TestVinylAcetateDoesNotWashOut(t *testing.T) {
	t.Parallel()
	s := newStack(t, bone(), put("old", stack.Consolidation, "skull", "1990", of(acetate, "acetone")))
	got := reversal(t, s, "old")
	if got.Removable.Answer == stack.Yes {
		t.Errorf("got removable %v, want never yes from a porous body", got.Removable.Answer)
	}
	found := false
	for _, a := range s.Suitability("radiocarbon").Analyses {
		for _, b := range a.Bearing {
			found = found || strings.Contains(string(b.Evidence.Sources), "Brock")
		}
	}
	if !found {
		t.Errorf("got no bearing on radiocarbon with the study, want one")
	}
	removed := newStack(t, bone(), put("old", stack.Consolidation, "skull", "1990", of(acetate, "acetone")),
		off("r", "skull", "2020", stack.NotDetected, "acetone", "old"))
	for _, a := range removed.Suitability("radiocarbon").Analyses {
		for _, b := range a.Bearing {
			if b.Subject != "solvent-exposure" && b.Applies == stack.No {
				t.Errorf("after a removal: got %q applies no, want it to stay open", b.Effect)
			}
		}
	}
}

// TestNitrateJointsStillDissolve: cellulose nitrate joints dissolve readily in
// acetone after decades and can be exchanged in place (Neiro, Journal of the
// American Institute for Conservation 42(2), 2003); heat is never used on them.
func TestNitrateJointsStillDissolve(t *testing.T) {
	t.Parallel()
	plan := newStack(t, bone(), put("old", stack.Joining, "skull", "1965", of(nitrate, "acetone"))).Plan(
		stack.PlanRequest{Treatments: []string{"old"}})
	st := plan.Steps[0]
	if c := find(st, "acetone"); c == nil || c.Test {
		t.Errorf("got %+v, want acetone from evidence that was read", c)
	}
	if st.Heat.Allowed {
		t.Errorf("got heat allowed, want never on cellulose nitrate")
	}
	if !strings.Contains(st.Methods[0].Sentence, "Exchange in place") {
		t.Errorf("got %q first, want exchange in place", st.Methods[0].Sentence)
	}
}

// TestDewPoint compares with values of the psychrometric tables: at 100 % the
// dew point is the temperature. 20 °C and 50 % give 9.3 °C, 25 °C and 60 % give
// 16.7 °C (recalled round values).
func TestDewPoint(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ air, rh, want float64 }{
		{20, 100, 20}, {-40, 100, -40}, {50, 100, 50}, {20, 50, 9.3}, {25, 60, 16.7},
	} {
		got, ok := stack.DewPoint(c.air, c.rh)
		if !ok || math.Abs(got-c.want) > 0.05 {
			t.Errorf("%g °C, %g %%: got %.2f, %v, want %g", c.air, c.rh, got, ok, c.want)
		}
	}
	for _, c := range [][2]float64{{-41, 50}, {51, 50}, {20, 0}, {20, 101}, {math.NaN(), 50}, {20, math.NaN()}} {
		if got, ok := stack.DewPoint(c[0], c[1]); ok {
			t.Errorf("%g °C, %g %%: got %g, want no answer", c[0], c[1], got)
		}
	}
}

func reversal(t *testing.T, s *stack.Stack, id string) stack.Reversal {
	t.Helper()
	for _, r := range s.Reversibility() {
		if r.Treatment == id {
			return r
		}
	}
	t.Fatalf("got no layer of %s, want one", id)
	return stack.Reversal{}
}

func hasCandidate(s stack.Step, solvent string) bool { return find(s, solvent) != nil }

func find(s stack.Step, solvent string) *stack.Candidate {
	for i := range s.Candidates {
		if s.Candidates[i].Solvent == solvent {
			return &s.Candidates[i]
		}
	}
	return nil
}

func candidateOf(t *testing.T, material, date, solvent string) *stack.Candidate {
	t.Helper()
	plan := newStack(t, bone(), put("old", stack.Coating, "skull", date, of(material))).Plan(stack.PlanRequest{})
	if len(plan.Steps) != 1 {
		t.Fatalf("got %d steps, want 1", len(plan.Steps))
	}
	return find(plan.Steps[0], solvent)
}

// applies is whether an effect of solvent exposure applies.
func applies(s *stack.Stack, analysis, effect string) stack.Answer {
	for _, a := range s.Suitability(analysis).Analyses {
		for _, b := range a.Bearing {
			if b.Subject == "solvent-exposure" && strings.HasPrefix(b.Effect, effect) {
				return b.Applies
			}
		}
	}
	return stack.No
}
