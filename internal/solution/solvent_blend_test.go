package solution

import (
	"math"
	"slices"
	"strings"
	"testing"

	"meniscus/internal/fault"
	"meniscus/internal/quantity"

	"pgregory.net/rapid"
)

// Solvents for the tests: densities from the CRC Handbook, Hansen parameters from
// an open table (attribution recalled), Teas fractions of ethanol from blend
// numbers of a mailing list and of acetone as recalled from Burke 1984, rates from
// a glossary.
var hansenTable = Source{"", "open table of Hansen parameters", Verified}

func inBlend(name string) BlendSolvent {
	at := func(v float64) Density { return Density{Measured: quantity.Exactly(v)} }
	rate := func(v ...float64) (list []EvaporationRate) {
		for _, x := range v {
			list = append(list, EvaporationRate{x, Source{"", "solvent glossary", Verified}})
		}
		return list
	}
	switch name {
	case "acetone":
		return BlendSolvent{Name: name, Density: at(0.7901), Rates: rate(5.6, 7.7), Boils: new(56.1), Signal: "Danger",
			Symbols: []string{"GHS02", "GHS07"},
			Teas:    &Teas{47, 32, 21, Source{"", "Burke 1984, as recalled", Memory}}, Hansen: &Hansen{15.5, 10.4, 7.0, hansenTable},
			Hazards: []HazardLine{{"H225", "Highly flammable liquid and vapour.", clp},
				{"H319", "Causes serious eye irritation.", clp}}}
	case "ethanol":
		return BlendSolvent{Name: name, Density: at(0.7893), Rates: rate(1.7), Ethanol: new(1.0), Signal: "Danger",
			Symbols: []string{"GHS02"},
			Teas:    &Teas{36, 18, 46, Source{"", "blend numbers of a conservation mailing list, 1989", Verified}},
			Hansen:  &Hansen{15.8, 8.8, 19.4, hansenTable},
			Hazards: []HazardLine{{"H225", "Highly flammable liquid and vapour.", clp}}}
	case "water":
		return BlendSolvent{Name: name, Density: at(0.99821), Rates: rate(0.3), Ethanol: new(0.0),
			Hansen: &Hansen{15.5, 16.0, 42.3, hansenTable}}
	case "toluene":
		return BlendSolvent{Name: name, Density: at(0.8670), Hansen: &Hansen{18.0, 1.4, 2.0, hansenTable}, Signal: "Danger"}
	case "heptane":
		return BlendSolvent{Name: name, Density: at(0.6838), Rates: rate(3.3), Hansen: &Hansen{15.3, 0, 0, hansenTable}}
	}
	return BlendSolvent{Name: name, Cautions: []Caution{{"Hazards of " + name + " are not known here.", practice}}}
}

var testPairs = []SolventPair{
	{A: "water", B: "toluene", Mixing: DoesNotMix, Source: miscibility},
	{A: "water", B: "heptane", Mixing: DoesNotMix, Source: miscibility},
	{A: "ethanol", B: "water", Mixing: Mixes, Source: miscibility, Shrinks: "-3.55 % at 52.5:47.5 by volume",
		ShrinksSource: alcoholSource},
	{A: "acetone", B: "ethanol", Mixing: Mixes, Source: miscibility},
}

// mix makes a blend of names with percentages by volume.
func mix(parts ...string) SolventBlend {
	b := SolventBlend{Pairs: testPairs}
	for i := 0; i < len(parts); i += 2 {
		b.Shares = append(b.Shares, BlendShare{inBlend(parts[i]), quantity.New(parts[i+1], quantity.Percent)})
	}
	return b
}

func mustBlend(t *testing.T, b SolventBlend) SolventBlendAnswer {
	t.Helper()
	a, err := ComputeSolventBlend(b)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func TestBlendProperties(t *testing.T) {
	t.Parallel()
	a := mustBlend(t, mix("acetone", "80", "ethanol", "20"))
	if want := 0.8*0.7901 + 0.2*0.7893; math.Abs(a.Density.Value-want) > 1e-12 {
		t.Errorf("density: got %g, want %g", a.Density.Value, want)
	}
	if want := (Teas{0.8*47 + 0.2*36, 0.8*32 + 0.2*18, 0.8*21 + 0.2*46,
		Source{}}); math.Abs(a.Teas.Dispersion-want.Dispersion) > 1e-12 || math.Abs(a.Teas.Hydrogen-want.Hydrogen) > 1e-12 {
		t.Errorf("Teas: got %+v, want %+v", a.Teas, want)
	}
	if a.Teas.Source.Status != Memory {
		t.Errorf("status of an average with a recalled figure: got %s, want memory", a.Teas.Source.Status)
	}
	if got := a.Evaporation[0].Name + " " + a.Evaporation[1].Name; got != "acetone ethanol" {
		t.Errorf("order of evaporation: got %s", got)
	}
	if len(a.Hazards) != 2 || a.Signal != "Danger" || strings.Join(a.Symbols, " ") != "GHS02 GHS07" {
		t.Errorf("hazards: got %v %q %v, want H225 once and H319", a.Hazards, a.Signal, a.Symbols)
	}
	if !hasWarning(a.Advice, "rates-disagree") || !hasWarning(a.Advice, "composition-shifts") {
		t.Errorf("warnings: got %v", codes(a.Advice))
	}
}

// 40.00 mL ethanol (0.78945 g/mL) and 60.00 mL water (0.998203 g/mL) at 20 °C:
// 34.52 % by mass, density 0.94587 g/mL. Source: school-chemistry page of the
// University of Luxembourg (chim.lu), from a printed table; its density is 0.06
// kg/m³ above the formula's, so that both volumes round to 96.70 mL.
func TestEthanolWaterBlendAsPublished(t *testing.T) {
	t.Parallel()
	b := mix("ethanol", "40", "water", "60")
	b.Shares[0].Solvent.Density.Value, b.Shares[1].Solvent.Density.Value = 0.78945, 0.998203
	a := mustBlend(t, b)
	if math.Abs(100**a.Parts[0].ByMass-34.52) > 0.005 {
		t.Errorf("by mass: got %.3f %%, want 34.52", 100**a.Parts[0].ByMass)
	}
	if math.Abs(a.Density.Value-0.94587) > 1e-4 {
		t.Errorf("density: got %.5f, want 0.94587", a.Density.Value)
	}
	if !hasWarning(a.Advice, "not-additive") {
		t.Errorf("warnings: got %v, want the contraction", codes(a.Advice))
	}
}

// Fractions by mass and by volume are the same blend.
func TestBlendFractionsBothWays(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(rt *rapid.T) {
		percent := quantity.RoundTo(rapid.Float64Range(0.1, 99.9).Draw(rt, "φ"), 1e-3)
		f, _ := quantity.Of(percent, quantity.Percent)
		g, _ := quantity.Of(100-percent, quantity.Percent)
		b := mix("acetone", "50", "toluene", "50")
		b.Shares[0].Fraction, b.Shares[1].Fraction = f, g
		byVolume, err := ComputeSolventBlend(b)
		if err != nil {
			rt.Fatal(err)
		}
		w, _ := quantity.Of(*byVolume.Parts[0].ByMass, quantity.One)
		v, _ := quantity.Of(1-*byVolume.Parts[0].ByMass, quantity.One)
		b.Shares[0].Fraction, b.Shares[1].Fraction, b.ByMass = w, v, true
		byMass, err := ComputeSolventBlend(b)
		if err != nil {
			rt.Fatal(err)
		}
		if got := *byMass.Parts[0].ByVolume; math.Abs(got-percent/100) > 1e-9 {
			rt.Errorf("by volume, by mass and back: got %g, want %g", got, percent/100)
		}
		if math.Abs(byMass.Density.Value-byVolume.Density.Value) > 1e-9 {
			rt.Errorf("density: got %g by mass, %g by volume", byMass.Density.Value, byVolume.Density.Value)
		}
	})
}

// A blend's coordinates lie between those of its parts, and its distance from any
// point is at most that of the farther one.
func TestBlendLiesBetweenItsParts(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(rt *rapid.T) {
		percent := quantity.RoundTo(rapid.Float64Range(1, 99).Draw(rt, "φ"), 1e-3)
		f, _ := quantity.Of(percent, quantity.Percent)
		g, _ := quantity.Of(100-percent, quantity.Percent)
		b := mix("acetone", "50", "ethanol", "50")
		b.Shares[0].Fraction, b.Shares[1].Fraction = f, g
		a, err := ComputeSolventBlend(b)
		if err != nil {
			rt.Fatal(err)
		}
		centre := Hansen{Dispersion: rapid.Float64Range(10, 25).Draw(rt, "d"),
			Polar: rapid.Float64Range(0, 20).Draw(rt, "p"), Hydrogen: rapid.Float64Range(0, 40).Draw(rt, "h")}
		farther := math.Max(centre.distance(*inBlend("acetone").Hansen), centre.distance(*inBlend("ethanol").Hansen))
		if got := centre.distance(*a.Hansen); got > farther+1e-9 {
			rt.Errorf("distance: got %g, want at most %g", got, farther)
		}
		if sum := a.Teas.Dispersion + a.Teas.Polar + a.Teas.Hydrogen; math.Abs(sum-100) > 1e-9 {
			rt.Errorf("Teas fractions sum to %g", sum)
		}
	})
}

// Distances that are known, from recalled spheres and the table of solvents:
// poly(ethyl methacrylate) (17.60, 9.66, 3.97; 10.6) is at 1.50 from ethanol;
// poly(vinyl acetate) (20.93, 11.27, 9.66; 13.7) at 1.05 from ethanol and 1.01 from
// toluene; poly(vinyl butyral), lower-hydroxyl, (18.60, 4.36, 13.03; 10.6) at 1.00
// from acetone, 0.90 from ethanol, 1.08 from toluene; cellulose nitrate (15.41,
// 14.73, 8.84; 11.5) at 0.41, 1.06 and 1.38. Computed; a check of the arithmetic.
func TestRelativeDistances(t *testing.T) {
	t.Parallel()
	sphere := func(d, p, h, r float64) Sphere { return Sphere{Hansen{d, p, h, Source{}}, r} }
	pema, pvac := sphere(17.60, 9.66, 3.97, 10.6), sphere(20.93, 11.27, 9.66, 13.7)
	pvb, cn := sphere(18.60, 4.36, 13.03, 10.6), sphere(15.41, 14.73, 8.84, 11.5)
	for _, tt := range []struct {
		sphere  Sphere
		solvent string
		want    float64
	}{
		{pema, "ethanol", 1.50}, {pvac, "ethanol", 1.05}, {pvac, "toluene", 1.01}, {pvb, "acetone", 1.00},
		{pvb, "ethanol", 0.90},
		{pvb, "toluene", 1.08}, {cn, "acetone", 0.41}, {cn, "ethanol", 1.06}, {cn, "toluene", 1.38},
	} {
		b := mix(tt.solvent, "100")
		b.Resin = &ResinEvidence{Name: "a resin", Sphere: &tt.sphere}
		if got := mustBlend(t, b).Resin.Estimate.Relative; math.Abs(got-tt.want) > 0.005 {
			t.Errorf("%s: got %.4f, want %.2f", tt.solvent, got, tt.want)
		}
	}
}

// Observations come before the estimate, which is marked as one; where nothing
// was seen, the answer says so.
func TestResinObservationsFirst(t *testing.T) {
	t.Parallel()
	b := mix("acetone", "80", "ethanol", "20")
	sheet := Source{"", "supplier's sheet of the copolymer", Verified}
	b.Resin = &ResinEvidence{
		Name: "acrylic copolymer", Sphere: &Sphere{Hansen{17.60, 9.66, 3.97, Source{"", "recalled", Memory}}, 10.6},
		SphereNote:   "The sphere is that of poly(ethyl methacrylate), a stand-in.",
		Observations: []Observation{{Solvent: "acetone", Observed: "dissolves", Source: sheet}},
	}
	a := mustBlend(t, b)
	if r := a.Resin; len(r.Unobserved) != 1 || r.Unobserved[0] != "ethanol" ||
		!strings.Contains(r.Seen, "does not decide") {
		t.Errorf("seen: got %v, %q", r.Unobserved, r.Seen)
	}
	if s := a.Resin.Estimate.Sentence; !strings.Contains(s, "estimate") ||
		!strings.Contains(s, "relative to the resin's radius") || !strings.Contains(s, "stand-in") {
		t.Errorf("estimate: got %q", s)
	}
	b.Resin = &ResinEvidence{Name: "poly(vinyl butyral)", Grades: []string{"lower-hydroxyl", "higher-hydroxyl"}}
	if a := mustBlend(t, b); !hasWarning(a.Advice, "no-observation") ||
		!strings.Contains(a.Resin.Seen, "higher-hydroxyl") {
		t.Errorf("no grade: got %v, %q", codes(a.Advice), a.Resin.Seen)
	}
	b.Resin = &ResinEvidence{Name: "some resin", Grade: "an unheard-of grade"}
	if a := mustBlend(t, b); !strings.Contains(a.Resin.Seen, "No observation") || a.Resin.Estimate != nil {
		t.Errorf("unheard-of grade: got %q, %v", a.Resin.Seen, a.Resin.Estimate)
	}
}

func TestBlendsThatDoNotMix(t *testing.T) {
	t.Parallel()
	for name, tt := range map[string]struct {
		b      SolventBlend
		refuse bool
	}{
		"two layers":                     {mix("water", "50", "toluene", "50"), true},
		"two that mix, and water":        {mix("heptane", "30", "toluene", "30", "water", "40"), true},
		"a third may hold them together": {mix("water", "5", "ethanol", "60", "toluene", "35"), false},
	} {
		a, err := ComputeSolventBlend(tt.b)
		if tt.refuse {
			if f := fault.From(err); len(f) != 1 || f[0].Code != "solvents-do-not-mix" {
				t.Errorf("%s: got %v, want a refusal", name, err)
			}
			continue
		}
		if err != nil || !hasWarning(a.Advice, "held-together") {
			t.Errorf("%s: got %v (%v), want a warning", name, codes(a.Advice), err)
		}
	}
}

func TestBlendFaults(t *testing.T) {
	t.Parallel()
	for name, tt := range map[string]struct {
		b       SolventBlend
		pointer string
	}{
		"do not sum to one": {mix("acetone", "50", "ethanol", "40"), "/solvents"},
		"negative":          {mix("acetone", "-10", "ethanol", "110"), "/solvents/0/fraction"},
		"over 100 %":        {mix("acetone", "10", "ethanol", "110"), "/solvents/1/fraction"},
		"twice":             {mix("acetone", "50", "acetone", "50"), "/solvents/1"},
		"none":              {SolventBlend{}, "/solvents"},
		"not a fraction":    {SolventBlend{Shares: []BlendShare{{inBlend("acetone"), quantity.New("1", "mL")}}}, "/solvents/0/fraction/unit"},
	} {
		_, err := ComputeSolventBlend(tt.b)
		found := false
		for _, f := range fault.From(err) {
			found = found || f.Pointer == tt.pointer
		}
		if !found {
			t.Errorf("%s: got %v, want a fault at %s", name, err, tt.pointer)
		}
	}
	a := mustBlend(t, mix("acetone", "33.3", "ethanol", "33.3", "toluene", "33.3"))
	if !hasWarning(a.Advice, "fractions-rounded") || math.Abs(*a.Parts[0].ByVolume-1./3) > 1e-12 {
		t.Errorf("three thirds: got %g, %v", *a.Parts[0].ByVolume, codes(a.Advice))
	}
}

func hasCaution(a Advice, sentence string) bool {
	return slices.ContainsFunc(a.Cautions, func(c Caution) bool { return c.Sentence == sentence })
}

// Forty solvents, one without a density: everything that does not need that density is answered.
func TestBlendOfForty(t *testing.T) {
	t.Parallel()
	var b SolventBlend
	for i := range 40 {
		s := inBlend("acetone")
		s.Name += " " + number(float64(i))
		b.Shares = append(b.Shares, BlendShare{s, quantity.New("2.5", quantity.Percent)})
	}
	if a := mustBlend(t, b); math.Abs(a.Density.Value-0.7901) > 1e-9 || len(a.Hazards) != 2 {
		t.Errorf("forty times acetone: got %g, %v", a.Density.Value, a.Hazards)
	}
	a := mustBlend(t, mix("acetone", "90", "a spirit of the shop", "10"))
	if a.Density != nil || a.Teas != nil || !hasCaution(a.Advice, "Hazards of a spirit of the shop are not known here.") ||
		!hasWarning(a.Advice, "rate-unknown") {
		t.Errorf("with an unknown part: got %v, %v, %v", a.Density, a.Teas, codes(a.Advice))
	}
	if a.Evaporation[1].Name != "a spirit of the shop" {
		t.Errorf("without a rate it is last: got %v", a.Evaporation)
	}
}

// What to pour for an amount: fractions by volume of a volume, and what the rounded
// amounts give (by the definition of a fraction).
func TestSolventBlendIsMeasured(t *testing.T) {
	t.Parallel()
	b := SolventBlend{Amount: quantity.New("250", "mL"), Shares: []BlendShare{
		{BlendSolvent{Name: "fast", Density: Density{Measured: quantity.Exactly(0.79)}, Rates: []EvaporationRate{{Value: 5.6}}}, quantity.New("85", "%")},
		{BlendSolvent{Name: "slow", Density: Density{Measured: quantity.Exactly(0.87)}, Rates: []EvaporationRate{{Value: 0.6}}}, quantity.New("15", "%")},
	}}
	b.Measure.Readability = quantity.New("5", "mL")
	a, err := ComputeSolventBlend(b)
	if err != nil {
		t.Fatal(err)
	}
	if p := a.Parts[1].Pour; !closeTo(p.Exact, 37.5) || p.Rounded != 40 || !closeTo(p.Share, 40./255) {
		t.Errorf("got %+v, want 37.5 mL, 40 as measured, which is 40 in 255", p)
	}
	if steps := strings.Join(a.Steps, "\n"); strings.Index(steps, "40 mL of slow") > strings.Index(steps,
		"215 mL of fast") || !strings.Contains(steps, "fast 84.31 % by volume, slow 15.69 % by volume") {
		t.Errorf("the slow one goes in first, and the label says what was measured: %s", steps)
	}
	b.Amount = quantity.New("1", "kg")
	if a, err = ComputeSolventBlend(b); err != nil {
		t.Fatal(err)
	}
	if got := a.Parts[0].Pour.Exact + a.Parts[1].Pour.Exact; !closeTo(got, 1000) ||
		!closeTo(a.Parts[0].Pour.Exact, 1000*0.85*0.79/(0.85*0.79+0.15*0.87)) {
		t.Errorf("by mass: got %+v", a.Parts[0].Pour)
	}
	b.Shares[0].Solvent.Density = Density{}
	if _, err = ComputeSolventBlend(b); len(fault.From(err)) != 1 {
		t.Errorf("without a density: got %v, want one fault", err)
	}
}
