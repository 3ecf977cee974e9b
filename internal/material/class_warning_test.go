package material_test

import (
	"slices"
	"strings"
	"testing"

	"meniscus/internal/material"
)

// What published lists and handbooks warn of, and what they do not. Each of the sources is named
// beside its row in class-warnings.tsv; "recalled" ones say so in their sentence.
func TestClassWarnings(t *testing.T) {
	t.Parallel()
	b := material.Builtin()
	for name, tt := range map[string]struct {
		ids  []string
		mL   float64
		want string // the ids of the warnings, the worst first
	}{
		// University of Southern California, peroxide-forming chemicals, class B: both by name.
		"tetrahydrofuran": {[]string{"tetrahydrofuran"}, 0, "peroxides-concentrated"},
		"dioxane":         {[]string{"dioxane"}, 0, "peroxides-concentrated"},
		// Massachusetts Institute of Technology, overview of peroxide formers: propan-2-ol.
		"propan-2-ol": {[]string{"propan-2-ol"}, 0, "peroxides-secondary-alcohol"},
		// Prudent Practices 1995, classes of incompatible chemicals: nitro compounds with amines and bases,
		// halogenated hydrocarbons with aluminium.
		"nitromethane":               {[]string{"nitromethane"}, 0, "nitromethane"},
		"nitromethane with ammonia":  {[]string{"nitromethane", "ammonia-water-mixture"}, 0, "nitromethane-base nitromethane"},
		"nitromethane with pyridine": {[]string{"pyridine", "nitromethane"}, 0, "nitromethane-base nitromethane"},
		"chlorinated in aluminium":   {[]string{"dichloromethane", "aluminium"}, 0, "chlorinated-metal chlorinated-decompose"},
		"chloroform in aluminium":    {[]string{"chloroform", "aluminium"}, 0, "chlorinated-metal chlorinated-decompose"},
		"acetone in aluminium":       {[]string{"acetone", "aluminium"}, 0, ""},
		// Page on haloforms: phosgene from both.
		"chloroform": {[]string{"chloroform"}, 0, "chlorinated-decompose"},
		// ANSI/NFPA 40-1982, as quoted: cellulose nitrate.
		"cellulose nitrate in acetone": {[]string{"cellulose-nitrate", "acetone"}, 500, "cellulose-nitrate"},
		// Static accumulators are above 10^8 ohm m: toluene, xylene, heptane, cyclohexane, white spirit,
		// naphtha, turpentine, but not acetone, alcohols or water (safety page on non-conductive liquids).
		"toluene, a litre":      {[]string{"toluene"}, 1000, "static-pouring"},
		"toluene, a spoon":      {[]string{"toluene"}, 15, ""},
		"n-heptane, two litres": {[]string{"n-heptane"}, 2000, "static-pouring"},
		"white spirit, a litre": {[]string{"white-spirit-stoddard-solvent"}, 1000, "static-pouring"},
		"acetone, ten litres":   {[]string{"acetone"}, 10000, ""},
		"ethanol, ten litres":   {[]string{"ethanol"}, 10000, ""},
		// American Chemical Society, incompatible chemicals: peroxide with acetone, and on metals. Safety in
		// Academic Chemistry Laboratories: peroxide with alcohols and whatever burns, and with nitromethane.
		"peroxide, then acetone":      {[]string{"hydrogen-peroxide", "acetone"}, 0, "hydrogen-peroxide-ketones"},
		"peroxide with butanone":      {[]string{"butanone", "hydrogen-peroxide"}, 0, "hydrogen-peroxide-ketones"},
		"peroxide with ethanol":       {[]string{"ethanol-96", "hydrogen-peroxide"}, 0, "hydrogen-peroxide-flammables"},
		"peroxide with nitromethane":  {[]string{"hydrogen-peroxide", "nitromethane"}, 0, "hydrogen-peroxide-flammables nitromethane"},
		"peroxide in aluminium":       {[]string{"hydrogen-peroxide", "aluminium"}, 0, "hydrogen-peroxide-metals"},
		"peroxide in water and glass": {[]string{"hydrogen-peroxide", "water", "glass"}, 0, ""},
		// Recalled.
		"acid on formalin":           {[]string{"acids", "formalin"}, 0, "acid-formaldehyde formalin-methanol"},
		"tetrahydrofuran and alkali": {[]string{"tetrahydrofuran", "alkaline-water"}, 0, "tetrahydrofuran-base peroxides-concentrated"},
		"1-methoxy-2-propanol":       {[]string{"1-methoxy-2-propanol"}, 0, "peroxides-glycol-ether"},
		"acetone with chloroform":    {[]string{"acetone", "chloroform"}, 0, "acetone-chloroform-base chlorinated-decompose"},
		"a washing sequence with both": {[]string{"acetone-methanol-chloroform-sequence"}, 0,
			"acetone-chloroform-base chlorinated-decompose"},
		"formalin":           {[]string{"formalin"}, 0, "formalin-methanol"},
		"resin into acetone": {[]string{"poly-vinyl-butyral", "acetone"}, 2000, "static-powder dust-explosion"},
		// What there is nothing to say of: water, and a solvent of none of the classes.
		"water":                {[]string{"water"}, 10000, ""},
		"water with a pigment": {[]string{"water", "titanium-dioxide-white"}, 10000, "dust"},
		"resin into water":     {[]string{"poly-vinyl-alcohol", "water"}, 500, ""},
		"drying acetone":       {[]string{"acetone", "heat"}, 0, "drying-in-warmth"},
		"drying water":         {[]string{"water", "heat"}, 0, ""},
		"not known here":       {[]string{"name:my solvent"}, 0, ""},
	} {
		got := []string{}
		for _, w := range b.ClassWarnings(tt.ids, tt.mL) {
			got = append(got, w.ID)
			if strings.ContainsAny(w.Sentence, "{}") || !strings.HasSuffix(w.Sentence, ".") || w.Sentence[0] >= 'a' &&
				w.Sentence[0] <= 'z' {
				t.Errorf("%s: %q is no sentence", name, w.Sentence)
			}
			recalled := w.Evidence.Status == material.Memory
			if says := strings.Contains(w.Sentence, "recalled"); says != recalled {
				t.Errorf("%s: %q, recalled %t", name, w.Sentence, recalled)
			}
			if recalled && w.Blocks() {
				t.Errorf("%s: %s is recalled and blocks", name, w.ID)
			}
		}
		if want := strings.Fields(tt.want); !slices.Equal(got, want) {
			t.Errorf("%s: got %v, want %v", name, got, want)
		}
	}
}

// Two that must not meet, as a source that was read says, block.
func TestClassWarningsThatBlock(t *testing.T) {
	t.Parallel()
	for _, w := range material.Builtin().ClassWarnings([]string{"nitromethane", "alkaline-water", "acetone", "chloroform"}, 100) {
		if want := w.ID == "nitromethane-base"; w.Blocks() != want {
			t.Errorf("%s: blocks %t, want %t", w.ID, w.Blocks(), want)
		}
	}
}
