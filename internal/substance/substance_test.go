package substance

import (
	"math"
	"slices"
	"strings"
	"testing"

	"meniscus/internal/material"
	"meniscus/internal/quantity"
	"meniscus/internal/solution"
)

func lookup() *Lookup { return &Lookup{Base: material.Builtin()} }

func of(t *testing.T, value string, unit quantity.Unit) quantity.Quantity {
	t.Helper()
	d, err := quantity.ParseDecimal(value)
	if err != nil {
		t.Fatal(err)
	}
	return quantity.Quantity{Value: d, Unit: unit}
}

// The density of acetone at 20 Cel is 0.7901 g/mL in the CRC Handbook; H225 is on its
// label by the harmonised classification.
func TestFindGivesWhatIsKnown(t *testing.T) {
	t.Parallel()
	l := lookup()
	c, found := l.Find("/solvent", Said{Material: "acetone", Name: "what we rinse with"}, solution.Solid)
	if !found || len(l.Faults) > 0 {
		t.Fatalf("got %v, %v", found, l.Faults)
	}
	if c.ID != "acetone" || c.Name != "what we rinse with" || c.Phase != solution.Liquid {
		t.Errorf("got %q, %q, %q: want the liquid, as the caller calls it", c.ID, c.Name, c.Phase)
	}
	if c.Density.Value != 0.7901 || !(c.Density.Standard > 0) || c.Density.Source.Citation == "" {
		t.Errorf("density: got %+v, want 0.7901 with its uncertainty and source", c.Density)
	}
	if r, known := c.Density.Ratio(30); !known || !(r > 0.97 && r < 1) {
		t.Errorf("density at 30 over 20 Cel: got %v, %v, want a little less than 1", r, known)
	}
	if _, known := c.Density.Ratio(400); known {
		t.Error("the density is known at 400 Cel, where no curve reaches")
	}
	if len(c.Cautions) != 1 || !strings.Contains(c.Cautions[0].Sentence, "Highly flammable liquid") {
		t.Errorf("cautions: got %v, want the words of H225", c.Cautions)
	}
	shrinks := func(x solution.Contraction) bool { return x.With == "water" && x.Percent < 0 }
	if !slices.ContainsFunc(c.Contractions, shrinks) {
		t.Errorf("contractions: got %v, want one with water", c.Contractions)
	}
}

// Water and n-heptane form two layers.
func TestLiquidsThatDoNotMix(t *testing.T) {
	t.Parallel()
	if not := lookup().Of("water").NotWith; !slices.Contains(not, "n-heptane") || slices.Contains(not, "ethanol") {
		t.Errorf("water does not mix with %v, want n-heptane among them and not ethanol", not)
	}
}

func TestASubstanceOfYourOwn(t *testing.T) {
	t.Parallel()
	l := lookup()
	c, found := l.Find("", Said{Name: "Old Varnish"}, solution.Solid)
	same := c.ID == OwnID("old varnish") && c.Name == "Old Varnish" && c.Phase == solution.Solid
	if !found || !same || c.Density.Known() {
		t.Errorf("got %+v, want what was said and nothing more", c)
	}
	if wet, _ := l.Find("", Said{Name: "Old Varnish", Phase: solution.Liquid}, solution.Solid); wet.Phase != solution.Liquid {
		t.Errorf("got %q, want the phase that was said", wet.Phase)
	}
	c = l.WithDensity("", c, of(t, "1100", "kg/m3"), OfSupply)
	if c.Density.Value != 1.1 || c.Density.Source != OfSupply || len(l.Faults) > 0 {
		t.Errorf("got %+v, %v, want 1.1 g/mL as the caller's own", c.Density, l.Faults)
	}
}

// Ethanol of 96 % by volume is 93.83839 % by mass, and 0.8074 g/mL at 20 °C (OIML R 22).
func TestSpirit(t *testing.T) {
	t.Parallel()
	l := lookup()
	sold := l.Of("ethanol-96")
	said := l.WithAlcohol("", l.Of("ethanol"), of(t, "96", quantity.Percent))
	for _, c := range []solution.Component{sold, said} {
		if len(c.Supplied) != 2 || c.Supplied[0].Component.ID != "ethanol" || c.Supplied[1].Component.ID != "water" {
			t.Fatalf("%s: got the parts %v, want ethanol and water", c.ID, c.Supplied)
		}
		mass, water := c.Supplied[0].Fraction.Value, c.Supplied[1].Fraction.Value
		if math.Abs(mass-0.9383839) > 1e-7 || math.Abs(mass+water-1) > 1e-12 || *c.Ethanol != mass {
			t.Errorf("%s: got %.8f and %.8f by mass, want 0.93838390 and the rest", c.ID, mass, water)
		}
		if math.Abs(c.Density.Value-0.8074) > 5e-5 {
			t.Errorf("%s: got %.5f g/mL, want 0.8074", c.ID, c.Density.Value)
		}
	}
	if said.ID == "ethanol" {
		t.Error("a spirit has the id of ethanol")
	}
	if *l.Of("ethanol").Ethanol != 1 || *l.Of("water").Ethanol != 0 || l.Of("acetone").Ethanol != nil {
		t.Error("ethanol is all ethanol, water none, and acetone neither")
	}
}

func TestWhatCannotBeFound(t *testing.T) {
	t.Parallel()
	percent := of(t, "50", quantity.Percent)
	for name, c := range map[string]struct {
		look    func(l *Lookup)
		code    string
		pointer string
	}{
		"an id that is none": {
			func(l *Lookup) { l.Find("/at", Said{Material: "no-such-thing"}, solution.Solid) }, "material-unknown", "/at/material"},
		"an object": {
			func(l *Lookup) { l.Find("/at", Said{Material: "metal-pin"}, solution.Solid) }, "material-not-mixable", "/at/material"},
		"a grade left open": {
			func(l *Lookup) { l.Find("/at", Said{Material: "polyethylene-glycol"}, solution.Solid) }, "grade-needed", "/at/grade"},
		"a dispersion without its solids": {
			func(l *Lookup) { l.Find("/at", Said{Material: "acrylic-dispersion", Dense: true}, solution.Liquid) },
			"dispersion-needs-solids", "/at/material"},
		"a density in grams": {
			func(l *Lookup) { l.WithDensity("/at", l.Of("acetone"), of(t, "0.8", quantity.Gram), InRequest) }, "unit-kind", "/at/unit"},
		"acetone by volume": {
			func(l *Lookup) { l.WithAlcohol("/at", l.Of("acetone"), percent) }, "not-a-spirit", "/at"},
		"more than all": {
			func(l *Lookup) { l.WithAlcohol("/at", l.Of("ethanol"), of(t, "101", quantity.Percent)) }, "out-of-range", "/at"},
	} {
		l := lookup()
		c.look(l)
		if len(l.Faults) != 1 || l.Faults[0].Code != c.code || l.Faults[0].Pointer != c.pointer {
			t.Errorf("%s: got %v, want %s at %s", name, l.Faults, c.code, c.pointer)
		}
	}
	l := lookup()
	l.Find("", Said{Material: "polyethylene-glycol", Dense: true}, solution.Solid)
	l.Find("", Said{Material: "acrylic-dispersion", Dense: true, Dispersed: true}, solution.Liquid)
	if len(l.Faults) > 0 {
		t.Errorf("got %v: a density that is said needs no grade, and a dispersion may be described", l.Faults)
	}
}

// A setting material is found, and says how it sets: it is never diluted.
func TestWhatSets(t *testing.T) {
	t.Parallel()
	for id, how := range map[string]string{
		"epoxy-bisphenol-a-amine": "sets by reaction", "plaster-of-paris": "sets with its water", "shellac": "",
	} {
		if c := lookup().Of(id); c.ID != id || c.Sets != how {
			t.Errorf("%s: got %q, want %q", id, c.Sets, how)
		}
	}
}
