package stack_test

import (
	"testing"

	"meniscus/internal/stack"
)

// TestVerdicts: what disturbs bears; a reassurance does not, and is no all-clear
// either; and nothing on record is said as that.
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
