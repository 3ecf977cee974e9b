package stack_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"meniscus/internal/fault"
	"meniscus/internal/material"
	"meniscus/internal/stack"
)

// TestLoadAndNumberBlock: over a joint that carries load, and over a number that
// is recorded nowhere, the harm cannot be undone.
func TestLoadAndNumberBlock(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name string
		old  stack.Treatment
		want stack.Severity
	}{
		{"joint carries load", with(put("old", stack.Joining, "skull", "1990", of(acetate, "acetone")), loaded(stack.Yes)), stack.Block},
		{"joint carries none", with(put("old", stack.Joining, "skull", "1990", of(acetate, "acetone")), loaded(stack.No)), stack.Warn},
		{"joint, nobody knows", put("old", stack.Joining, "skull", "1990", of(acetate, "acetone")), stack.Warn},
		{"number not recorded", with(put("old", stack.Labelling, "skull", "1990", of(acetate, "acetone")), numbered(stack.No)), stack.Block},
		{"number recorded", with(put("old", stack.Labelling, "skull", "1990", of(acetate, "acetone")), numbered(stack.Yes)), stack.Warn},
		{"number, nobody knows", put("old", stack.Labelling, "skull", "1990", of(acetate, "acetone")), stack.Warn},
	} {
		got := findings(check(t, newStack(t, bone(), c.old), resin("toluene"), stack.CheckConfig{}), "solvent-reaches-earlier-layer")
		if len(got) != 1 || got[0].Severity != c.want {
			t.Errorf("%s: got %v, want one of severity %s", c.name, got, c.want)
		}
	}
}

// TestUnknownSolventOfTheSameResin: it is unknown whether the solvent is the
// same, so the milder rule does not apply.
func TestUnknownSolventOfTheSameResin(t *testing.T) {
	t.Parallel()
	got := check(t, newStack(t, bone(), put("old", stack.Consolidation, "skull", "2010", of(copolymer))), resin("acetone"),
		stack.CheckConfig{})
	if len(findings(got, "same-resin-over-earlier-layer")) > 0 || !hasSeverity(findings(got, "known-solvent-of-earlier-layer"), stack.Warn) {
		t.Errorf("got %v, want known-solvent-of-earlier-layer and not same-resin-over-earlier-layer", got.Findings)
	}
}

// TestAmbiguousCard: "glue" may be three things; acetone dissolves one of them.
func TestAmbiguousCard(t *testing.T) {
	t.Parallel()
	got := check(t, newStack(t, bone(), put("old", stack.Joining, "skull", "1950",
		words("glue", "animal-glue", whiteGlue, nitrate))), resin("acetone"), stack.CheckConfig{})
	if l := findings(got, "solvent-reaches-earlier-layer"); len(l) != 1 || l[0].Severity != stack.Warn ||
		!strings.Contains(l[0].Sentence, "depends on which") {
		t.Errorf("got %v, want a warning that it depends on which it is", got.Findings)
	}
	if len(findings(got, "earlier-layer-unknown")) != 1 {
		t.Errorf("got %v, want earlier-layer-unknown too", got.Findings)
	}
}

// TestOneCollapsedFinding: forty unknown layers are one finding.
func TestOneCollapsedFinding(t *testing.T) {
	t.Parallel()
	var old []stack.Treatment
	for i := range 40 {
		old = append(old, put(fmt.Sprintf("old-%02d", i), stack.Coating, "skull", "1950", words("varnish")))
	}
	got := findings(check(t, newStack(t, bone(), old...), resin("acetone"), stack.CheckConfig{}), "earlier-layer-unknown")
	if len(got) != 1 || got[0].Count != 40 {
		t.Errorf("got %v, want one finding for forty layers", got)
	}
}

// TestTestSilencesItsOwnAreaAndSolvent and no other.
func TestTestSilencesItsOwnAreaAndSolvent(t *testing.T) {
	t.Parallel()
	old := coat("old", "skull", "1990")
	for _, c := range []struct {
		name   string
		test   stack.Treatment
		silent bool
	}{
		{"here, with it", tried("try", "skull/nasal", "2026", "old", "acetone", "no-effect"), true},
		{"elsewhere", tried("try", "jaw", "2026", "old", "acetone", "no-effect"), false},
		{"with another liquid", tried("try", "skull/nasal", "2026", "old", "ethanol", "no-effect"), false},
		{"of another layer", tried("try", "skull/nasal", "2026", "other", "acetone", "no-effect"), false},
		{"without a result", tried("try", "skull/nasal", "2026", "old", "acetone", "unknown"), false},
		{"that dissolved it", tried("try", "skull/nasal", "2026", "old", "acetone", "dissolves"), false},
		{"that whitened it", tried("try", "skull/nasal", "2026", "old", "acetone", "whitens"), false},
	} {
		got := check(t, newStack(t, bone(), old, c.test), resin("acetone"), stack.CheckConfig{})
		silent := len(findings(got, "solvent-reaches-earlier-layer"))+len(findings(got, "known-solvent-of-earlier-layer"))+len(findings(got, "same-resin-over-earlier-layer")) == 0
		if silent != c.silent {
			t.Errorf("%s: got %v, want silent %v", c.name, got.Findings, c.silent)
		}
		if silent && !slices.ContainsFunc(got.Cleared, func(x stack.Cleared) bool {
			return slices.Contains(x.Layers, "old") && x.Evidence != nil
		}) {
			t.Errorf("%s: got %v, want the layer cleared by the test, with the evidence", c.name, got.Cleared)
		}
	}
}

// TestMixtures: a named mixture is taken apart, and two liquids that do nothing
// alone are not an all-clear together.
func TestMixtures(t *testing.T) {
	t.Parallel()
	s := newStack(t, bone(), put("old", stack.Coating, "skull", "2024", of(pvbHigh, "ethanol")))
	got := check(t, s, resin("acetone-ethanol-mixture"), stack.CheckConfig{})
	if len(findings(got, "known-solvent-of-earlier-layer")) != 1 {
		t.Errorf("got %v, want ethanol in the mixture to dissolve it", got.Findings)
	}
	waxed := newStack(t, bone(), coat("old", "skull", "2024"))
	both := resin("white-spirit-stoddard-solvent", func(t *stack.Treatment) {
		t.Uses = []stack.Use{of(copolymer, "white-spirit-stoddard-solvent", "naphtha")}
	})
	if got := findings(check(t, waxed, both, stack.CheckConfig{}), "solvent-reaches-earlier-layer"); !warnsOfUnknown(got) {
		t.Errorf("got %v, want a warning that nobody knows of the two together", got)
	}
}

func TestTuning(t *testing.T) {
	t.Parallel()
	s := newStack(t, bone(condition("damp")))
	tuned := stack.CheckConfig{
		Tuning: stack.Tuning{"solvent-resin-on-damp-body": {Severity: stack.Warn, Reason: "Our finds are dried under vacuum before any resin."}},
	}
	got := findings(check(t, s, resin("acetone"), tuned), "solvent-resin-on-damp-body")
	if len(got) != 1 || got[0].Severity != stack.Warn || got[0].TunedFrom != stack.Block || got[0].TunedBecause == "" {
		t.Errorf("got %+v, want it tuned, with what it was and why", got)
	}
	_, err := s.Check(resin("acetone"), stack.CheckConfig{
		Tuning: stack.Tuning{"solvent-resin-on-damp-body": {Severity: stack.Warn}, "no-such-rule": {Severity: "loud", Reason: "x"}},
	})
	var codes []string
	for _, f := range fault.From(err) {
		codes = append(codes, f.Code+f.Pointer)
	}
	if got := strings.Join(codes, " "); got != "rule-unknown/no-such-rule severity-unknown/no-such-rule/severity "+
		"tuning-reason-missing/solvent-resin-on-damp-body/reason" {
		t.Errorf("got %q, want all three faults with their places", got)
	}
}

// TestOverride sets a block aside with a reason, and keeps the finding.
func TestOverride(t *testing.T) {
	t.Parallel()
	s := newStack(t, bone(condition("damp")))
	if !check(t, s, resin("acetone"), stack.CheckConfig{}).Blocked() {
		t.Error("got no block, want one")
	}
	got := check(t, s, resin("acetone"), stack.CheckConfig{
		Overrides: []stack.Override{{Rule: "solvent-resin-on-damp-body", Reason: "The find would fall apart tonight."}},
	})
	if got.Blocked() || findings(got, "solvent-resin-on-damp-body")[0].Overridden == "" {
		t.Errorf("got %v, want the block set aside and kept", got.Findings)
	}
	if got := check(t, s, resin("acetone"), stack.CheckConfig{Overrides: []stack.Override{{Rule: "solvent-resin-on-damp-body"}}}); !got.Blocked() {
		t.Error("without a reason: got no block, want it to stand")
	}
}

// TestRecorded looks at a record as of its own day, against what came before.
func TestRecorded(t *testing.T) {
	t.Parallel()
	c := stack.Config{Specimen: bone(), Knowledge: material.Builtin(), At: today, Treatments: []stack.Treatment{
		coat("before", "skull", "1990"), put("it", stack.Consolidation, "skull", "2000", of(copolymer, "acetone")),
		put("after", stack.Coating, "skull", "2010", of(acetate, "acetone")),
	}}
	got, err := stack.CheckRecorded(c, "it", stack.CheckConfig{})
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range got.Findings {
		if slices.Contains(f.Layers, "after") || slices.Contains(f.Layers, "it") {
			t.Errorf("got %v, want no word of later layers or of itself", f)
		}
		if f.Rule == "film-may-whiten" && f.Severity != stack.Info {
			t.Errorf("got %v, want what nobody recorded of a past moment to be told, not warned about", f)
		}
	}
	if !hasSeverity(findings(got, "known-solvent-of-earlier-layer"), stack.Warn) {
		t.Errorf("got %v, want known-solvent-of-earlier-layer about the layer before it", got.Findings)
	}
	if _, err := stack.CheckRecorded(c, "nobody", stack.CheckConfig{}); !fault.Is(err, fault.NotFound) {
		t.Errorf("got %v, want not found", err)
	}
}

// TestMostSevereFirst and the same each time.
func TestMostSevereFirst(t *testing.T) {
	t.Parallel()
	s := newStack(t, bone(condition("damp"), sampling("radiocarbon", "skull")), coat("old", "skull", "1990"),
		put("older", stack.Coating, "skull", "1950", words("varnish")))
	got := check(t, s, resin("acetone", climate(8, 90)), stack.CheckConfig{}).Findings
	weight := map[stack.Severity]int{stack.Block: 2, stack.Warn: 1, stack.Info: 0}
	if !slices.IsSortedFunc(got, func(a, b stack.Finding) int { return weight[b.Severity] - weight[a.Severity] }) {
		t.Errorf("got %v, want the most severe first", got)
	}
}

// TestPossiblyReachedIsMilder: a brush may run into the neighbours.
func TestPossiblyReachedIsMilder(t *testing.T) {
	t.Parallel()
	s := newStack(t, bone(), with(put("old", stack.Joining, "skull/nasal", "1990", of(acetate, "acetone")),
		loaded(stack.Yes)))
	beside := resin("toluene", areas("skull/orbit"))
	got := findings(check(t, s, beside, stack.CheckConfig{}), "solvent-reaches-earlier-layer")
	if len(got) != 1 || !got[0].Possible || got[0].Severity != stack.Warn {
		t.Errorf("brush: got %v, want a warning that it may be reached", got)
	}
	if got := findings(check(t, s, with(beside, method(stack.Swab)), stack.CheckConfig{}), "solvent-reaches-earlier-layer"); len(got) != 0 {
		t.Errorf("swab: got %v, want none", got)
	}
	if got := findings(check(t, s, with(beside, method(stack.Immersion)), stack.CheckConfig{}), "solvent-reaches-earlier-layer"); len(got) != 1 ||
		got[0].Severity != stack.Block {
		t.Errorf("bath: got %v, want a block", got)
	}
}

// TestSaidOnce: what is true of several things in one place is one finding.
func TestSaidOnce(t *testing.T) {
	t.Parallel()
	s := newStack(t, bone(),
		put("varnish", stack.Coating, "skull", "1950", of("shellac", "ethanol")),
		put("other", stack.OtherAction, "skull", "1960", of(copolymer, "acetone")))
	near := findings(check(t, s, resin("n-heptane"), stack.CheckConfig{}), "solvent-near-labels-or-paint")
	if len(near) != 1 || !near[0].Unknown || near[0].Severity != stack.Warn ||
		!slices.Equal(near[0].Layers, []string{"other", "varnish"}) {
		t.Errorf("a coating and a layer of unknown purpose: got %v, want one warning that names both", near)
	}
	two := resin("acetone", func(p *stack.Treatment) {
		p.Uses = []stack.Use{of(copolymer, "acetone"), of(acetate, "acetone")}
	})
	if got := findings(check(t, s, two, stack.CheckConfig{}), "gloss-and-darkening"); len(got) != 1 {
		t.Errorf("two resins of which no strength is said: got %v, want it said once", got)
	}
}

// TestRemovalThatNamesALayerElsewhere warns and names it; one that names a layer
// on its own ground does not.
func TestRemovalThatNamesALayerElsewhere(t *testing.T) {
	t.Parallel()
	s := newStack(t, bone(), put("jaw", stack.Coating, "jaw", "1990", of(copolymer, "acetone")),
		put("skull", stack.Coating, "skull", "1990", of(copolymer, "acetone")))
	named := func(treatment string) (found [][]string) {
		for _, f := range findings(check(t, s, off("r", "skull", "2020", stack.Reduced, "acetone", treatment),
			stack.CheckConfig{}), "removal-record-incomplete") {
			if f.Severity == stack.Warn && !f.Unknown {
				found = append(found, f.Layers)
			}
		}
		return found
	}
	for _, elsewhere := range []string{"jaw", "of-another-specimen"} {
		if got := named(elsewhere); len(got) != 1 || !slices.Equal(got[0], []string{elsewhere}) {
			t.Errorf("%s: got %v, want a warning that names it", elsewhere, got)
		}
	}
	if got := named("skull"); len(got) != 0 {
		t.Errorf("on its own ground: got %v, want no warning", got)
	}
}

// A coat whose solvent is not said, put on with acetone: what acetone does is told, and not that no
// solvent is said.
func TestAnotherLiquidMayBeBrought(t *testing.T) {
	t.Parallel()
	s := newStack(t, bone(), put("old", stack.Coating, "skull", "2001", of(copolymer, "acetone")))
	coat := put("proposed", stack.Coating, "skull", "2026-03-02", of("poly-vinyl-butyral"))
	for said, proposed := range map[string]stack.Treatment{
		"Which solvent the treatment brings is not said":                      coat,
		"Whether the treatment brings other liquids than acetone is not said": with(coat, hours("acetone", 1)),
	} {
		got := findings(check(t, s, proposed, stack.CheckConfig{}), "solvent-reaches-earlier-layer")
		if !slices.ContainsFunc(got, func(f stack.Finding) bool { return strings.HasPrefix(f.Sentence, said) }) {
			t.Errorf("got %v, want %q", got, said)
		}
	}
}
