package material_test

import (
	"testing"

	"meniscus/internal/material"
)

// An examination says something of layers where it looked for what treatments leave, or does not say what for.
func TestOfTreatments(t *testing.T) {
	t.Parallel()
	for words, want := range map[string]bool{
		"": true, " ": true, "earlier coatings and consolidants": true, "Older adhesive": true, "traces of treatment": true,
		"any resin": true, "arsenic": false, "tack and gloss": false, "mould": false, "new cracks": false, "shellac": false,
		"flakes that move": false, "pesticide residues": false, "salts": false,
	} {
		if got := material.OfTreatments(words); got != want {
			t.Errorf("%q: got %v, want %v", words, got, want)
		}
	}
}
