package record_test

import (
	"testing"

	"meniscus/internal/record"
)

// Texts without a visible character.
func TestBlankTexts(t *testing.T) {
	t.Parallel()
	for _, blank := range []string{" ", "\t\n", "\u00a0", "\u200e\u200f", "\u202a\u202c", "\u2066\u2069", "\ufeff",
		"\u200b", "\u2060", "\u00ad", "\u3164", "\u2800", "\ufe0f", "\u115f", "\u3000", "\U000e0020"} {
		if !record.IsBlank(blank) {
			t.Errorf("%+q passes for a text that can be seen", blank)
		}
	}
	for _, seen := range []string{
		"", "a", "\u200ea", "\u05e2\u05e6\u05dd", "\u9aa8", "-", "\u0301", "\U0001f9b4", "\ue000",
	} {
		if record.IsBlank(seen) {
			t.Errorf("%+q passes for blank", seen)
		}
	}
}
