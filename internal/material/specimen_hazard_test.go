package material

import (
	"regexp"
	"slices"
	"strings"
	"testing"
)

// The words are those of the table of words on old labels and cards.
func TestHazardWords(t *testing.T) {
	b := Builtin()
	for _, c := range []struct {
		text  string
		in    HazardPlace
		means string
	}{
		{"Brushed with arsenical soap, 1911.", AnyText, "arsenic-soap"},
		{"mit Arsenikseife behandelt", AnyText, "arsenic-soap"},
		{"peau traitée à l'acide arsénieux", AnyText, "arsenic-soap"},
		{"Schweinfurter Grün am Sockel", AnyText, "arsenic-pigment"},
		{"poisoned sheet", AnyText, "mercuric-chloride"},
		{"sublimate", NamedMaterial, "mercuric-chloride"},
		{"sublimate", PestText, "mercuric-chloride"},
		{"the wax will sublimate", AnyText, ""},
		{"HgCl₂ in alcohol", AnyText, "mercuric-chloride"},
		{"evacuated to 20 mm Hg", AnyText, ""},
		{"Hg", PestText, "mercuric-chloride"},
		{"D.D.T. dusted", AnyText, ""}, // points part the letters: not known here
		{"DDT dusted", AnyText, "ddt"},
		{"PDB crystals", AnyText, "p-dichlorobenzene"},
		{"para", PestText, "p-dichlorobenzene"},
		{"silicone mould of the skull", AnyText, ""},
		{"mould growth on the label", AnyText, "mould"},
		{"poly(vinyl acetate) in acetone", AnyText, ""},
		{"bichloride of mercury and camphor balls", AnyText, "mercuric-chloride naphthalene"},
		{"lead arsenate", AnyText, "lead-arsenate"},
		{"cellulose nitrate adhesive", AnyText, "cellulose-nitrate"},
		{"glue", NamedMaterial, ""}, // it may be that, and nothing says so
		{"glued with collodion", AnyText, "cellulose-nitrate"},
		{"", AnyText, ""},
	} {
		var got []string
		for _, w := range b.HazardWordsIn(c.text, c.in) {
			got = append(got, w.Hazard.ID)
		}
		if strings.Join(got, " ") != c.means {
			t.Errorf("%q as %s means %q, want %q", c.text, c.in, strings.Join(got, " "), c.means)
		}
	}
}

// Whatever is found, the pattern finds too: what searches by it misses nothing.
func TestTheHazardPatternMissesNothing(t *testing.T) {
	b := Builtin()
	pattern := regexp.MustCompile("(?i)" + b.HazardPattern())
	for _, w := range b.hazardWords {
		if (w.Where == AnyText || w.Where == NamedMaterial) &&
			(!pattern.MatchString(w.Text) || !pattern.MatchString(`{"remarks":"line\n`+w.Text+`\n"}`)) {
			t.Errorf("the pattern does not find %q", w.Text)
		}
	}
	for _, text := range []string{"", "Arsenikseife", "line\\nArsen", "line\\nnarsen", "darsen", "ARSÉNIC", "balsam", "DDT", "_ddt",
		`{"remarks":"Quecksilber"}`, "consolidated with ethyl methacrylate copolymer"} {
		if got, want := b.MayNameHazard(text), pattern.MatchString(text); got != want {
			t.Errorf("in %q a word was found: %v, by the pattern %v", text, got, want)
		}
	}
	for _, w := range b.hazardWords {
		for _, text := range []string{w.Text, `{"remarks":"line\n` + w.Text + `\n"}`, "(" + strings.ToUpper(w.Text) + ")"} {
			if pattern.MatchString(text) && !b.MayNameHazard(text) {
				t.Errorf("the words of %q are not found, and the pattern finds them", text)
			}
		}
	}
	if pattern.MatchString("consolidated with ethyl methacrylate copolymer, 5 g in 100 mL of acetone") {
		t.Errorf("the pattern finds %q, which names no hazard",
			pattern.FindString("consolidated with ethyl methacrylate copolymer, 5 g in 100 mL of acetone"))
	}
}

func TestHazardousMaterials(t *testing.T) {
	b, err := Builtin().With([]OwnMaterial{{ID: "own-soap", Name: "Arsenical soap, 1911 recipe", Kind: Resin, Citation: "workshop book"}})
	if err != nil {
		t.Fatal(err)
	}
	if got := b.HazardousMaterials(); !slices.Contains(got, "own-soap") || !slices.Contains(got, "cellulose-nitrate") ||
		slices.Contains(got, "acetone") || slices.Contains(got, "poly-vinyl-acetate") {
		t.Errorf("got %v", got)
	}
	if h, ok := b.SpecimenHazard("arsenic", ""); !ok || h.ID != "arsenic-soap" || !h.Dust {
		t.Errorf("arsenic is %v", h)
	}
	if h, ok := b.SpecimenHazard("pesticide", "DDT"); !ok || h.ID != "ddt" {
		t.Errorf("DDT is %v", h)
	}
	if h, ok := b.SpecimenHazard("sharp-or-heavy", ""); ok {
		t.Errorf("what is sharp is %v", h)
	}
}
