package calculation_test

import (
	"fmt"
	"strings"
	"testing"

	"meniscus/api"
	"meniscus/internal/calculation"
	"meniscus/internal/label"
	"meniscus/internal/material"
)

// saysHazards tells whether sentences hold one of the liquid's hazard statements, or say
// that none is known.
func saysHazards(base *material.Base, m material.Material, all []string) bool {
	text := strings.Join(all, "\n")
	by := base.ClassifiedBy(m.ID)
	if len(by) == 0 {
		return strings.Contains(text, "Hazards of "+m.Name+" are not known here; see its safety data sheet.")
	}
	for _, id := range by {
		for _, h := range base.Hazards(id) {
			st, coded := base.Statement(h.Value)
			if coded && !strings.Contains(text, strings.TrimSuffix(st.Text(), ".")) ||
				h.Kind == material.HazardNote && !strings.Contains(text, strings.TrimSuffix(h.Value, ".")) {
				return false
			}
		}
	}
	return true
}

func sentences(a api.ComputeAdvice) []string {
	var out []string
	for _, c := range a.Cautions {
		out = append(out, c.Sentence)
	}
	return out
}

// Silence is not "none": every liquid of the base has its statements and notes in a
// recipe and a blend, or says that its hazards are not known here.
func TestEveryLiquidSaysItsHazards(t *testing.T) {
	t.Parallel()
	base := material.Builtin()
	liquids := base.Materials(material.Filter{Kinds: []material.Kind{
		material.Solvent, material.SolventMixture, material.Reagent}})
	unknown := 0
	for _, m := range liquids {
		if len(base.ClassifiedBy(m.ID)) == 0 {
			unknown++
		}
		saysOnLabel(t, base, m)
		if m.Kind == material.Reagent {
			continue // nothing is dissolved in it here
		}
		recipe, err := asked(t, calculation.MakeUp, fmt.Sprintf(`{"resin": {"solid": {"name": "old varnish"}},
			"strength": {"basis": "mass-fraction", "value": 5, "unit": "%%"},
			"solvent": {"liquid": {"material": %q}}, "amount": {"finished": {"value": 100, "unit": "g"}}}`, m.ID))
		if err != nil || !saysHazards(base, m, sentences(recipe.Advice)) {
			t.Errorf("recipe with %s: got %q, %v", m.Name, sentences(recipe.Advice), err)
		}
		blend, err := asked(t, calculation.SolventBlend, fmt.Sprintf(
			`{"by": "volume", "solvents": [{"material": %q, "fraction": {"value": 100, "unit": "%%"}}]}`, m.ID))
		said := sentences(blend.Advice)
		for _, h := range blend.Hazards {
			said = append(said, h.Text)
		}
		if err != nil || !saysHazards(base, m, said) {
			t.Errorf("blend of %s: got %q, %v", m.Name, said, err)
		}
	}
	if len(liquids) < 45 || unknown < 5 {
		t.Errorf("looked at %d liquids, %d of them not known, want all of both sorts", len(liquids), unknown)
	}
}

// saysOnLabel compares the label of a bottle of a liquid with its hazard data.
func saysOnLabel(t *testing.T, base *material.Base, m material.Material) {
	t.Helper()
	l := label.New(label.Facts{Liquids: []string{m.Name}, Substances: []string{m.ID}}, base, 500)
	said := false
	for _, s := range l.Pieces[0].Content.Says {
		said = said || s.Element == label.HazardText || s.Element == label.HazardsUnknown
	}
	if !said {
		t.Errorf("label of %s: got %v, want its hazards or that they are not known", m.Name, l.Pieces[0].Content.Says)
	}
}

// The hazards of a liquid that is in no base, such as the caller's own, are said to be
// unknown.
func TestALiquidOfYourOwnIsNotHarmless(t *testing.T) {
	t.Parallel()
	recipe, err := asked(t, calculation.MakeUp, `{"resin": {"solid": {"name": "old varnish"}},
		"strength": {"basis": "mass-fraction", "value": 5, "unit": "%"},
		"solvent": {"liquid": {"name": "thinner of the shop"}}, "amount": {"finished": {"value": 100, "unit": "g"}}}`)
	want := "Hazards of thinner of the shop are not known here; see its safety data sheet."
	if got := strings.Join(sentences(recipe.Advice), "\n"); err != nil || !strings.Contains(got, want) {
		t.Errorf("got %q, %v, want %q", got, err, want)
	}
}

// A reading of a hydrometer says what is known of the liquid that it stands in.
func TestWhatIsInWaterSaysItsHazards(t *testing.T) {
	t.Parallel()
	for solute, want := range map[string]string{
		"methanol": "On the label of methanol, at least: ", "acetic-acid": "Hazards of acetic acid are not known here",
	} {
		a, err := asked(t, calculation.EthanolWater, `{"solution": {"solute": "`+solute+`", "strength": {"basis": "mass-fraction",
			"value": 5, "unit": "%"}, "temperature": {"value": 20, "unit": "Cel"}}}`)
		if got := strings.Join(sentences(a.Advice), "\n"); err != nil || !strings.Contains(got, want) {
			t.Errorf("%s: got %q, %v, want %q", solute, got, err, want)
		}
	}
}

// What does not burn is not said to burn, and water is no solvent to guard against; with
// acetone in it the mixture burns.
func TestOnlyWhatBurnsIsSaidToBurn(t *testing.T) {
	t.Parallel()
	for liquid, want := range map[string]struct{ gloves, fire bool }{
		"water": {}, "dichloromethane": {gloves: true}, "chloroform": {gloves: true},
		"acetone": {true, true}, "dimethylformamide": {true, true}, "ethanol-96": {true, true},
	} {
		recipe, err := asked(t, calculation.MakeUp, fmt.Sprintf(`{"resin": {"solid": {"name": "pigment"}},
			"strength": {"basis": "mass-fraction", "value": 5, "unit": "%%"},
			"solvent": {"liquid": {"material": %q}}, "amount": {"finished": {"value": 100, "unit": "g"}}}`, liquid))
		text := strings.Join(sentences(recipe.Advice), "\n")
		gloves, fire := strings.Contains(text, "gloves"), strings.Contains(text, "solvents burn")
		if err != nil || gloves != want.gloves || fire != want.fire {
			t.Errorf("%s: got gloves %v, fire %v, %v, want %+v", liquid, gloves, fire, err, want)
		}
	}
}

// Where the skull stands the exclamation mark does not (Regulation (EC) No 1272/2008,
// Article 26(1)(b)): methanol has the one and acetone the other.
func TestABlendHasThePictogramsOfItsLabel(t *testing.T) {
	t.Parallel()
	blend, err := asked(t, calculation.SolventBlend, `{"by": "volume", "solvents": [
		{"material": "acetone", "fraction": {"value": 50, "unit": "%"}},
		{"material": "methanol", "fraction": {"value": 50, "unit": "%"}}]}`)
	if got := fmt.Sprint(blend.Pictograms); err != nil || got != "[GHS02 GHS06 GHS08]" {
		t.Errorf("got %s, %v, want flame, skull and health hazard", got, err)
	}
	l := label.New(label.Facts{Substances: []string{"acetone", "methanol"}}, material.Builtin(), 500)
	if got := fmt.Sprint(l.Pieces[0].Content.Pictograms); got != "[GHS02 GHS06 GHS08]" {
		t.Errorf("label: got %s, want the same", got)
	}
}
