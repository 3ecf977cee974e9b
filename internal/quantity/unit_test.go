package quantity

import (
	"math"
	"math/big"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"meniscus/internal/fault"
)

func TestConvertIsExact(t *testing.T) {
	t.Parallel()
	tests := []struct {
		value    string
		from, to Unit
		want     string // a rational
	}{
		{"1", "[lb_av]", "g", "45359237/100000"},
		{"16", "[oz_av]", "[lb_av]", "1"},
		{"7000", "[gr]", "[lb_av]", "1"},
		{"128", "[foz_us]", "[gal_us]", "1"},
		{"1", "[gal_us]", "mL", "473176473/125000"}, // 231 cubic inches of 2.54 cm
		{"0.1", "L", "mL", "100"},
		{"150", "mL", "dL", "3/2"},
		{"1", "dm3", "L", "1"},
		{"20", "g/dL", "g/L", "200"},
		{"1", "g/mL", "kg/m3", "1000"},
		{"2.5", "g/m2", "mg/cm2", "1/4"},
		{"1", "atm", "kPa", "4053/40"},
		{"1000000", "[ppm]", "%", "100"},
		{"68", "[degF]", "Cel", "20"},
		{"-40", "[degF]", "Cel", "-40"},
		{"20", "Cel", "K", "5863/20"},
		{"3.6", "km/h", "m/s", "1"},
		{"1", "a", "d", "1461/4"},
		{"12", "mo", "a", "1"},
		{"1", "[ft_i]", "[in_i]", "12"},
		// Cooley's Cyclopaedia of Practical Receipts, sixth edition, volume II: of 7000 grains
		// to the pound an apothecaries' ounce has 480, a drachm 60 and a scruple 20; a pound has
		// 16 oz of 16 drams; a gallon 4 quarts or 8 pints; 160 fl oz; a fluid drachm is 1/8 fl
		// oz, and a minim 1/60 of that.
		{"1", "[oz_ap]", "[gr]", "480"},
		{"1", "[dr_ap]", "[gr]", "60"},
		{"1", "[sc_ap]", "[gr]", "20"},
		{"1", "[lb_ap]", "[oz_ap]", "12"},
		{"256", "[dr_av]", "[lb_av]", "1"},
		{"1", "[gal_br]", "[qt_br]", "4"},
		{"1", "[gal_br]", "[pt_br]", "8"},
		{"1", "[gal_br]", "[foz_br]", "160"},
		{"1", "[foz_br]", "[fdr_br]", "8"},
		{"1", "[fdr_br]", "[min_br]", "60"},
		{"4", "[gil_br]", "[pt_br]", "1"},
		// sizes.com, apothecaries' measure, 2001: a US gallon of 8 pints, a pint of 16 fl oz, a
		// fl oz of 8 fluid drams, 480 minims.
		{"1", "[gal_us]", "[pt_us]", "8"},
		{"2", "[pt_us]", "[qt_us]", "1"},
		{"1", "[pt_us]", "[foz_us]", "16"},
		{"1", "[foz_us]", "[fdr_us]", "8"},
		{"1", "[foz_us]", "[min_us]", "480"},
		{"4", "[gil_us]", "[pt_us]", "1"},
	}
	for _, test := range tests {
		got, err := New(test.value, test.from).Exact(test.to)
		want, _ := new(big.Rat).SetString(test.want)
		if err != nil || got.Cmp(want) != 0 {
			t.Errorf("%s %s in %s: got %v, %v, want %s", test.value, test.from, test.to, got, err, test.want)
		}
	}
}

// Printed conversions. 595 psi = 4102 kPa and 688 psi = 4744 kPa: at 6.895 kPa per
// psi, as Podany et al., Journal of the American Institute for Conservation 40(1),
// 2001, use it (their stress figures), so to one part in ten thousand. 9.6 lb per
// US gallon = 1.150 g/mL: data sheet of the acrylic copolymer.
func TestConvertAgreesWithPrint(t *testing.T) {
	t.Parallel()
	tests := []struct {
		value           string
		from, to        Unit
		want, tolerance float64
	}{
		{"595", "[psi]", "kPa", 4102, 1},
		{"688", "[psi]", "kPa", 4744, 1},
		{"9.6", "[lb_av]/[gal_us]", "g/mL", 1.150, 0.0005},
		// sizes.com, apothecaries' measure, 2001.
		{"1", "[foz_br]", "mL", 28.41, 0.005}, {"1", "[fdr_br]", "mL", 3.55163, 0.000005},
		{"1", "[min_br]", "mL", 0.059, 0.0005}, {"1", "[gal_br]", "L", 4.546, 0.0005},
		{"1", "[foz_us]", "mL", 29.57, 0.005}, {"1", "[fdr_us]", "mL", 3.697, 0.0005},
		{"1", "[min_us]", "mL", 0.062, 0.0005}, {"1", "[pt_us]", "mL", 473, 0.5},
		// Henley's Twentieth Century Formulas, percentage solutions: 1 in 10 of a pint is 875
		// grains, which counts 8750 grains of water to the pint, at 62 °F (998.9 g/L, recalled).
		{"875", "[gr]/[pt_br]", "g/mL", 0.09989, 0.0002},
	}
	for _, test := range tests {
		got, err := New(test.value, test.from).In(test.to)
		if err != nil || math.Abs(got-test.want) > test.tolerance {
			t.Errorf("%s %s in %s: got %v, %v, want %v", test.value, test.from, test.to, got, err, test.want)
		}
	}
}

func TestConvertRefusesAnotherKind(t *testing.T) {
	t.Parallel()
	_, err := New("1", "g").In("mL")
	found := fault.From(err)
	if len(found) != 1 || found[0].Code != "unit-kind" || found[0].Pointer != "/unit" {
		t.Errorf("grams in millilitres: got %v, want a fault unit-kind at /unit", err)
	}
	if _, err := ParseUnit("ml"); len(fault.From(err)) != 1 {
		t.Errorf("ml: got %v, want a fault (UCUM codes are case-sensitive, and mL is the one known here)", err)
	}
}

// Every meaning of an old word is a unit, and they differ; a code has no other meaning.
func TestOldWords(t *testing.T) {
	t.Parallel()
	for word, want := range map[string][]Unit{
		"fl. oz.": {"[foz_br]", "[foz_us]"}, "Pints": {"[pt_br]", "[pt_us]"}, "grains": {"[gr]"}, "gr.": {"[gr]", "g"},
		"drachms": {"[dr_ap]", "[dr_av]", "[fdr_br]", "[fdr_us]"}, "lbs": {"[lb_av]", "[lb_ap]"},
		"g": nil, "[foz_us]": nil, "min": nil, "spoon": nil, "": nil,
	} {
		if got := Meanings(word); !slices.Equal(got, want) {
			t.Errorf("%q: got %v, want %v", word, got, want)
		}
	}
	for word, all := range oldWords {
		for i, unit := range all {
			if unit.Kind() == "" || slices.Contains(all[:i], unit) {
				t.Errorf("%s: %s is no unit, or stands twice", word, unit)
			}
		}
	}
}

// A rate per unit of time may be written in each form that UCUM has, and air changes in the usual words.
func TestSpellingsOfARate(t *testing.T) {
	t.Parallel()
	for spelled, want := range map[string]Unit{
		"1/h": "1/h", "/h": "1/h", "h-1": "1/h", "/min": "1/min", "min-1": "1/min", "/s": "1/s", "s-1": "1/s", "/d": "1/d",
		"d-1": "1/d", "ACH": "1/h", "ach": "1/h", "ACH-1": "", "ac/h": "1/h", "AC/hr": "1/h", "air changes/h": "1/h",
		"air changes/hour": "1/h", "per hour": "1/h", "/hr": "", "/H": "", "/g": "", "g-1": "", "1/": "", "/": "", "-1": "",
		"/1": "", "": "",
	} {
		if got, err := ParseUnit(spelled); got != want || (err == nil) != (want != "") {
			t.Errorf("%q: got %q, %v, want %q", spelled, got, err, want)
		}
	}
}

func TestConvertThereAndBack(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		row := rapid.SampledFrom(unitTable).Draw(t, "from")
		to := rapid.SampledFrom(UnitsOf(row.kind)).Draw(t, "to")
		x := big.NewRat(rapid.Int64Range(-1e9, 1e9).Draw(t, "numerator"), rapid.Int64Range(1, 1e6).Draw(t, "denominator"))
		there, err := Convert(x, row.unit, to)
		if err != nil {
			t.Fatal(err)
		}
		back, err := Convert(there, to, row.unit)
		if err != nil || back.Cmp(x) != 0 {
			t.Fatalf("%v %s to %s and back: got %v, %v", x, row.unit, to, back, err)
		}
	})
}

func TestEveryUnitIsSaidOnce(t *testing.T) {
	t.Parallel()
	if len(units) != len(unitTable)+len(proofTable) || len(Units()) != len(unitTable) {
		t.Errorf("units: got %d codes in %d rows, want each code once", len(units), len(unitTable))
	}
	for unit, d := range units {
		if d.scale.Sign() <= 0 || (d.said == "" && unit != One) {
			t.Errorf("%s: got factor %v, said %q", unit, d.scale, d.said)
		}
	}
}
