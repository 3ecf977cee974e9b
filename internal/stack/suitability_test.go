package stack_test

import (
	"slices"
	"testing"

	"meniscus/internal/stack"
)

// TestVerdicts: what disturbs the analysis bears on it; a reassurance does not,
// and is no all-clear either; no record has a verdict of its own.
func TestVerdicts(t *testing.T) {
	t.Parallel()
	coat := with(put("coat", stack.Coating, "skull", "2009", of(copolymer, "acetone")), func(tr *stack.Treatment) {
		tr.Exposures = []stack.Exposure{{Solvent: "acetone", Hours: num(2), During: "removal"}}
	})
	cleaning := put("dusted", stack.Cleaning, "skull", "2009")
	for _, x := range []struct {
		what, analysis string
		treatments     []stack.Treatment
		want           stack.Verdict
	}{
		{"petroleum carbon", "radiocarbon", []stack.Treatment{coat}, stack.Bears},
		{"polar solvent alters structural carbonate", "carbonate-isotopes", []stack.Treatment{coat}, stack.Bears},
		{"phosphate is unaltered by it, and of the resin nobody knows", "phosphate-isotopes", []stack.Treatment{coat}, stack.MayBear},
		{"words that nobody understands", "ct", []stack.Treatment{put("old", stack.Coating, "skull", "1950", words("dope"))}, stack.MayBear},
		{"a dry cleaning", "ct", []stack.Treatment{cleaning}, stack.NothingKnown},
		{"nothing on record", "radiocarbon", nil, stack.NoRecord},
	} {
		got := newStack(t, bone(), x.treatments...).Suitability(x.analysis).Analyses[0]
		if got.Verdict != x.want || got.Sentence == "" {
			t.Errorf("%s: got %q for %s, want %q: %+v", x.what, got.Verdict, x.analysis, x.want, got)
		}
	}
}

// TestWorkIsARecord: an area that was worked on has a recorded treatment; one that
// was only looked at, or damaged, has none.
func TestWorkIsARecord(t *testing.T) {
	t.Parallel()
	for action, want := range map[stack.Action]bool{stack.MechanicalPreparation: false, stack.Cleaning: false,
		stack.Testing: false, stack.Examining: true, stack.Damage: true} {
		found := newStack(t, bone(), put("w", action, "jaw", "2001")).Suitability().Unrecorded
		if got := slices.ContainsFunc(found, func(u stack.UnrecordedArea) bool { return u.Area == "jaw" }); got != want {
			t.Errorf("%s: got the area unrecorded: %v, want %v", action, got, want)
		}
	}
}
