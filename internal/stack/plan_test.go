package stack_test

import (
	"slices"
	"strings"
	"testing"

	"meniscus/internal/stack"
)

// TestWhatLiesOverComesOffFirst, wanted or not, and the step says why.
func TestWhatLiesOverComesOffFirst(t *testing.T) {
	t.Parallel()
	s := newStack(t, bone(), coat("a", "skull", "1990"), put("w", stack.Coating, "skull/nasal", "2000", of(wax)),
		coat("b", "jaw", "2010"))
	p := s.Plan(stack.PlanRequest{Treatments: []string{"a"}})
	if got := steps(p); got != "w a" {
		t.Fatalf("got %q, want w before a, and b left alone", got)
	}
	if p.Steps[0].Because == "" || p.Steps[1].Because != "" {
		t.Errorf("got reasons %q and %q, want one for w alone", p.Steps[0].Because, p.Steps[1].Because)
	}
}

// TestBelowAThermoset nothing is reachable, where it covers; beside it, it is.
func TestBelowAThermoset(t *testing.T) {
	t.Parallel()
	s := newStack(t, bone(), coat("all", "skull", "1990"), coat("part", "skull/nasal", "1995"),
		put("lid", stack.Joining, "skull/nasal", "2000", of(epoxy)), coat("top", "skull/nasal", "2010"))
	p := s.Plan(stack.PlanRequest{})
	if got := steps(p); got != "top all" {
		t.Errorf("got steps %q, want top and all", got)
	}
	var shut []string
	for _, u := range p.Unreachable {
		shut = append(shut, u.Treatment+"<"+u.Below)
	}
	slices.Sort(shut)
	if got := strings.Join(shut, " "); got != "lid< part<lid" {
		t.Errorf("got unreachable %q, want the lid and what it covers", got)
	}
	last := p.Steps[len(p.Steps)-1]
	if len(last.Except) != 1 || last.Except[0].Areas[0] != "skull/nasal" || last.Except[0].Below != "lid" {
		t.Errorf("got exceptions %+v, want the ground below the lid", last.Except)
	}
}

// TestCandidatesByCollateralThenHarm: what leaves the other layers alone comes
// first, then what harms people least; water only on a body that stands it.
func TestCandidatesByCollateralThenHarm(t *testing.T) {
	t.Parallel()
	layers := []stack.Treatment{
		with(put("joint", stack.Joining, "skull", "1980", of(acetate, "acetone")), loaded(stack.Yes)),
		with(put("label", stack.Labelling, "skull", "1985", of(isobutyl, "naphtha")), numbered(stack.No)),
		put("top", stack.Coating, "skull", "1990", of("methylcellulose", "water")),
	}
	p := newStack(t, bone(), layers...).Plan(stack.PlanRequest{Treatments: []string{"top"}})
	if c := p.Steps[0].Candidates[0]; c.Solvent != "water" || c.Disturbed != 0 || c.Harm != 0 {
		t.Errorf("got %+v first, want water", c)
	}
	wet := newStack(t, bone(trait(stack.Pyrite, stack.Yes)), layers...).Plan(
		stack.PlanRequest{Treatments: []string{"top"}})
	if hasCandidate(wet.Steps[0], "water") || len(wet.Steps[0].Excluded) == 0 {
		t.Errorf("pyrite: got %+v, want water left out, with the reason", wet.Steps[0])
	}
	open := newStack(t, bone(trait(stack.Pyrite, stack.Unknown)),
		layers...).Plan(stack.PlanRequest{Treatments: []string{"top"}})
	if c := find(open.Steps[0], "water"); c == nil || !c.Test {
		t.Errorf("pyrite unknown: got %+v, want water as a test", c)
	}
	resins := newStack(t, bone(), coat("coat", "skull", "2024"), put("joint", stack.Joining, "skull", "1980",
		of(acetate, "acetone"))).Plan(stack.PlanRequest{Treatments: []string{"coat"}})
	for i, c := range resins.Steps[0].Candidates[1:] {
		before := resins.Steps[0].Candidates[i]
		if before.Disturbed > c.Disturbed || before.Disturbed == c.Disturbed && before.Unknown == c.Unknown &&
			before.Harm > c.Harm {
			t.Errorf("got %s (%d, harm %d) before %s (%d, harm %d), want the other way round", before.Solvent, before.Disturbed,
				before.Harm, c.Solvent, c.Disturbed, c.Harm)
		}
	}
}

// TestRecalledIsATest: what was not read in a source is never an instruction.
func TestRecalledIsATest(t *testing.T) {
	t.Parallel()
	for _, material := range []string{copolymer, isobutyl, nButyl, pvbLow, pvbHigh, acetate, whiteGlue, nitrate, "shellac",
		"animal-glue", wax, "polyethylene-glycol", "gum"} {
		for _, date := range []string{"1960", "2025", ""} {
			p := newStack(t, bone(), put("old", stack.Coating, "skull", date, of(material))).Plan(stack.PlanRequest{})
			for _, c := range p.Steps[0].Candidates {
				read := slices.ContainsFunc(c.Evidence, func(e stack.Evidence) bool { return e.Status == "verified" || e.Status == "read" })
				if !c.Test && !read {
					t.Errorf("%s of %q: got %s as an instruction from %v, want a test", material, date, c.Solvent, c.Evidence)
				}
			}
		}
	}
}

// TestSpotTest: where nothing is published, the plan says so.
func TestSpotTest(t *testing.T) {
	t.Parallel()
	for name, u := range map[string]stack.Use{"unknown words": words("black stuff"),
		"a material of which no row exists": of("correction-fluid"), "deleted": of("own-deleted-material")} {
		st := newStack(t, bone(), put("old", stack.Coating, "skull", "1960", u)).Plan(stack.PlanRequest{}).Steps[0]
		if !st.SpotTest || len(st.Candidates) > 0 || !strings.Contains(strings.Join(st.Cautions, " "), "spot test") {
			t.Errorf("%s: got %+v, want a spot test", name, st)
		}
	}
}

// TestTestOnTheSpecimenOutranks the tables, for its layer and liquid.
func TestTestOnTheSpecimenOutranks(t *testing.T) {
	t.Parallel()
	s := newStack(t, bone(), coat("a", "skull", "1990"), tried("t1", "skull", "2026-01", "a", "acetone", "no-effect"),
		tried("t2", "skull", "2026-01", "a", "n-heptane", "dissolves"))
	st := s.Plan(stack.PlanRequest{}).Steps[0]
	if hasCandidate(st, "acetone") {
		t.Errorf("got acetone, want it out: it did nothing here")
	}
	if c := find(st, "n-heptane"); c == nil || c.Test || c.Evidence[0].Treatment != "t2" {
		t.Errorf("got %+v, want n-heptane from the test", c)
	}
	if got := reversal(t, s, "a").Redissolvable; got.Answer != stack.Yes || got.Evidence[0].Treatment == "" {
		t.Errorf("got %+v, want yes, the test first", got)
	}
}

// TestHazardsBeforeAnyStep: known, suspected and not examined.
func TestHazardsBeforeAnyStep(t *testing.T) {
	t.Parallel()
	s := newStack(t, bone(func(sp *stack.Specimen) {
		sp.Hazards = []stack.Hazard{
			{Name: "arsenic", Status: "known"}, {Name: "mercury", Status: "suspected"}, {Name: "asbestos", Status: "none-found"},
		}
	}), coat("a", "skull", "1990"))
	text := ""
	for _, b := range s.Plan(stack.PlanRequest{}).Before {
		text += b.Sentence + "\n"
	}
	for _, want := range []string{"known to hold arsenic", "suspected to hold mercury", "radioactivity"} {
		if !strings.Contains(text, want) {
			t.Errorf("got %q, want it to say %q", text, want)
		}
	}
	if strings.Contains(text, "asbestos") {
		t.Errorf("got %q, want no word of asbestos, which was looked for", text)
	}
}

// TestPreparations: the number before its base coat, support before the joint
// softens, the curator before a label, a replacement before the consolidant.
func TestPreparations(t *testing.T) {
	t.Parallel()
	s := newStack(t, bone(trait(stack.Friable, stack.Yes)),
		put("soaked", stack.Consolidation, "skull", "1970", of(copolymer, "acetone")),
		with(put("number", stack.Labelling, "skull", "1980", of(copolymer, "acetone")), numbered(stack.No)),
		put("joint", stack.Joining, "skull", "1990", of(acetate, "acetone")), coat("top", "skull", "2000"))
	p := s.Plan(stack.PlanRequest{Treatments: []string{"soaked"}})
	codes := map[string]string{}
	for _, st := range p.Steps {
		for _, b := range slices.Concat(st.Before, st.After) {
			codes[st.Treatment] += b.Code + " "
		}
	}
	for id, want := range map[string]string{"top": "record-number support", "joint": "support",
		"number": "curator-approval record-number", "soaked": "replacement"} {
		for _, code := range strings.Fields(want) {
			if !strings.Contains(codes[id], code) {
				t.Errorf("%s: got %q, want %s", id, codes[id], code)
			}
		}
	}
	last := p.Steps[len(p.Steps)-1]
	if last.Treatment != "soaked" || len(last.Blocked) == 0 || last.Blocked[0].Severity != stack.Block {
		t.Errorf("got %+v, want the consolidant last and blocked", last.Blocked)
	}
}

// TestNothingIsCalledClean: no answer of a plan, of suitability or of the
// present state says that something is clean, absent, safe or untreated.
func TestNothingIsCalledClean(t *testing.T) {
	t.Parallel()
	s := newStack(t, bone(), coat("a", "skull", "1990"), off("r", "skull", "2000", stack.NotDetected, "acetone", "a"))
	var text strings.Builder
	p := s.Plan(stack.PlanRequest{})
	for _, g := range p.AlreadyGone {
		text.WriteString(g.Sentence)
	}
	for _, a := range s.Suitability().Analyses {
		text.WriteString(a.Sentence)
	}
	got := strings.ToLower(text.String())
	for _, word := range []string{"clean.", "is clean", "safe", "is untreated", "is absent", "completely removed"} {
		if strings.Contains(got, word) {
			t.Errorf("got %q, want nothing called %q", got, word)
		}
	}
	if len(p.AlreadyGone) != 1 {
		t.Errorf("got %v, want the layer that was not detected", p.AlreadyGone)
	}
}
