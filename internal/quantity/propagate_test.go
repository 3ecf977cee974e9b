package quantity

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"meniscus/internal/bibliography"
	"meniscus/internal/fault"
)

// The 100 mL flask of the EURACHEM/CITAC guide QUAM, example A1: maker's limit
// ±0.1 mL triangular, ±4 °C rectangular at 2.1e-4 per °C, repeatability 0.02 mL.
// Printed in its budget file: u(V) = 0.0664730521840743 mL. Read there: the result;
// the temperature, the expansion and the repeatability are recalled.
func TestFlaskBudget(t *testing.T) {
	t.Parallel()
	flask := Quantity{MustDecimal("100"), Millilitre, HalfWidth(MustDecimal("0.1"), Triangular)}
	warmth := Quantity{MustDecimal("20"), Celsius, HalfWidth(MustDecimal("4"), Rectangular)}
	inputs := []Input{
		{"the flask", Millilitre, measured(t, flask)},
		{"the temperature", Celsius, measured(t, warmth)},
		{"the repeatability", Millilitre, Measured{0, 0.02}},
	}
	got := Propagate(inputs, func(x []float64) float64 { return x[0]*(1+2.1e-4*(x[1]-20)) + x[2] })
	if want := 0.0664730521840743; math.Abs(got.Standard-want) > 1e-12 {
		t.Errorf("u(V): got %.16f, want %.16f", got.Standard, want)
	}
	var order []string
	for _, c := range got.Budget {
		order = append(order, c.Name)
	}
	if diff := cmp.Diff([]string{"the temperature", "the flask", "the repeatability"}, order); diff != "" {
		t.Errorf("budget, largest first (-want +got):\n%s", diff)
	}
	if got, want := got.Sentence(Millilitre), "99.87 to 100.13 mL; the temperature matters most"; got != want {
		t.Errorf("sentence: got %q, want %q", got, want)
	}
}

func measured(t *testing.T, q Quantity) Measured {
	t.Helper()
	m, err := q.Measured(q.Unit)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// The limits of OIML R 76, Table 6, on initial verification (class III: 0.5 e to
// 500 e, 1 e to 2000 e, 1.5 e to 10 000 e; class II breaks at 5000, 20 000 and
// 100 000 e), doubled in service; of one-mark flasks, ISO 1042 (A: Eichordnung, Anlage 12,
// 3.2; B recalled) and ASTM E288 (recalled); of cylinders, ISO 4788 (recalled) and ASTM
// E1272-02 (2012), Table 1; of one-mark pipettes, ISO 648 (recalled), and ASTM E969-02
// (2012), Table 1, to 7 mL, above it table 3-1 of an illustrated guide to home chemistry
// experiments, page 22.
func TestClassLimits(t *testing.T) {
	t.Parallel()
	tests := []struct {
		class                  Class
		amount, interval, want float64
	}{
		{"oiml-r76-iii", 500, 1, 0.5}, {"oiml-r76-iii", 501, 1, 1}, {"oiml-r76-iii", 2000, 1, 1},
		{"oiml-r76-iii", 2001, 1, 1.5}, {"oiml-r76-iii", 10000, 1, 1.5}, {"oiml-r76-iii", 30, 0.1, 0.05},
		{"oiml-r76-ii", 5000, 1, 0.5}, {"oiml-r76-ii", 20000, 1, 1}, {"oiml-r76-ii", 100000, 1, 1.5},
		{"oiml-r76-iii-in-service", 500, 1, 1}, {"oiml-r76-iii-in-service", 10000, 1, 3},
		{"oiml-r76-ii-in-service", 20000, 1, 2},
		{"iso-1042-a", 100, 0, 0.10}, {"iso-1042-a", 1000, 0, 0.40}, {"iso-1042-b", 100, 0, 0.20},
		{"iso-1042-a", 60, 0, 0.10}, {"iso-1042-a", 2000, 0, 0.6}, {"iso-1042-a", 5000, 0, 1.2}, {"iso-1042-b", 5000, 0, 2.4},
		{"astm-e288-a", 100, 0, 0.08}, {"astm-e288-b", 100, 0, 0.16},
		{"iso-4788-a", 100, 0, 0.5}, {"iso-4788-b", 250, 0, 2}, {"astm-e1272-a", 25, 0, 0.17}, {"astm-e1272-a", 30, 0, 0.25},
		{"astm-e1272-a", 500, 0, 2}, {"astm-e1272-b", 100, 0, 1}, {"astm-e1272-b", 500, 0, 4},
		{"iso-648-a", 10, 0, 0.02}, {"iso-648-b", 25, 0, 0.06}, {"astm-e969-a", 1, 0, 0.006}, {"astm-e969-b", 6, 0, 0.03},
		{"astm-e969-a", 5, 0, 0.01}, {"astm-e969-a", 50, 0, 0.05}, {"astm-e969-b", 100, 0, 0.16},
	}
	for _, test := range tests {
		got, err := test.class.HalfWidth(test.amount, test.interval)
		if err != nil || math.Abs(got-test.want) > 1e-12 {
			t.Errorf("%s at %v, e %v: got %v, %v, want %v", test.class, test.amount, test.interval, got, err, test.want)
		}
	}
	if _, err := Class("oiml-r76-iii").HalfWidth(10001, 1); len(fault.From(err)) != 1 {
		t.Errorf("above the class: got %v, want a fault", err)
	}
	for _, test := range []struct {
		class  Class
		amount float64
		want   string
	}{{"iso-648-a", 12, "class-size"}, {"astm-e969-a", 200, "class-size"}, {"astm-e1272-a", 501, "class-range"}} {
		if _, err := test.class.HalfWidth(test.amount, 0); len(fault.From(err)) != 1 || fault.From(err)[0].Code != test.want {
			t.Errorf("%s at %v mL: got %v, want %s", test.class, test.amount, err, test.want)
		}
	}
}

// Class B of a cylinder, a flask and an ISO pipette has twice the limits of class A (ASTM
// E288 and E1272, 1.1.2), and so has every limit of each; each class has a source.
func TestClassesAreConsistent(t *testing.T) {
	t.Parallel()
	for _, row := range classTable {
		bibliography.Named(row.source)
		for i := range row.limits {
			if i > 0 && (row.limits[i].upTo <= row.limits[i-1].upTo || row.limits[i].most < row.limits[i-1].most) {
				t.Errorf("%s: limits do not rise: %v after %v", row.class, row.limits[i], row.limits[i-1])
			}
		}
		b, found := Class(strings.TrimSuffix(string(row.class), "-a") + "-b").row()
		if !found || b.class == row.class || row.source == pipettesASTM {
			continue
		}
		for i, l := range row.limits {
			if b.limits[i].upTo != l.upTo || math.Abs(b.limits[i].most-2*l.most) > 1e-12 {
				t.Errorf("%s at %v mL: got %v, want twice %v", b.class, l.upTo, b.limits[i], l.most)
			}
		}
	}
}

func TestUncertaintyForms(t *testing.T) {
	t.Parallel()
	d := MustDecimal
	tests := []struct {
		name string
		q    Quantity
		want float64
	}{
		{"none said", New("5", Gram), 0},
		{"standard", Quantity{d("5"), Gram, Standard(d("0.2"))}, 0.2},
		{"rectangular", Quantity{d("5"), Gram, HalfWidth(d("3"), Rectangular)}, 3 / math.Sqrt(3)},
		{"triangular", Quantity{d("5"), Gram, HalfWidth(d("3"), Triangular)}, 3 / math.Sqrt(6)},
		{"readability", Quantity{d("5"), Gram, Readability(d("1"))}, 0.5 / math.Sqrt(3)},
		{"in another unit", Quantity{d("0.005"), "kg", Readability(d("0.001"))}, 0.5 / math.Sqrt(3)},
		{"glassware in litres", Quantity{d("0.1"), "L", ByClass("iso-1042-a", Decimal{})}, 0.1 / math.Sqrt(6)},
		{"degrees of the other scale", Quantity{d("68"), "[degF]", Standard(d("1.8"))}, 1},
	}
	base := map[Kind]Unit{Mass: Gram, Volume: Millilitre, Temperature: Celsius}
	for _, test := range tests {
		got, err := test.q.Measured(base[test.q.Unit.Kind()])
		if err != nil || math.Abs(got.Standard-test.want) > 1e-12 {
			t.Errorf("%s: got %v, %v, want %v", test.name, got.Standard, err, test.want)
		}
	}
	refused := map[string]Quantity{
		"negative":              {d("5"), Gram, Standard(d("-1"))},
		"no such distribution":  {d("5"), Gram, HalfWidth(d("1"), "normal")},
		"flask for grams":       {d("5"), Gram, ByClass("iso-1042-a", Decimal{})},
		"balance, no interval":  {d("5"), Gram, ByClass("oiml-r76-iii", Decimal{})},
		"class that is unknown": {d("5"), Gram, ByClass("none", Decimal{})},
	}
	for name, q := range refused {
		if _, err := q.Measured(Gram); len(fault.From(err)) != 1 {
			t.Errorf("%s: got %v, want a fault", name, err)
		}
	}
}

// First order against Monte Carlo over the same function: a strength from a weighed
// mass and a filled volume. 40 000 draws give the standard deviation to 0.4 %, so a
// tolerance of 2 % is five of those.
func TestPropagateAgreesWithMonteCarlo(t *testing.T) {
	t.Parallel()
	inputs := []Input{{"the balance", Gram, Measured{30, 0.3}}, {"the jar", Millilitre, Measured{150, 2}}}
	f := func(x []float64) float64 { return 100 * x[0] / x[1] }
	got := Propagate(inputs, f)
	random := rand.New(rand.NewPCG(7, 11))
	const draws = 40_000
	var sum, squares float64
	for range draws {
		y := f([]float64{30 + 0.3*random.NormFloat64(), 150 + 2*random.NormFloat64()})
		sum += y
		squares += (y - 20) * (y - 20)
	}
	mean := sum / draws
	want := math.Sqrt(squares/draws - (mean-20)*(mean-20))
	if math.Abs(got.Standard-want) > 0.02*want {
		t.Errorf("standard uncertainty: got %v, Monte Carlo gives %v", got.Standard, want)
	}
}

func TestPropagateLeavesOutWhatPlaysNoPart(t *testing.T) {
	t.Parallel()
	inputs := []Input{{"a", Gram, Measured{3, 0.1}}, {"b", Gram, Measured{5, 0.1}}}
	got := Propagate(inputs, func(x []float64) float64 { return 2 * x[0] })
	if len(got.Budget) != 1 || got.Budget[0].Share != 1 || math.Abs(got.Budget[0].Sensitivity-2) > 1e-9 {
		t.Errorf("budget: got %+v, want one line of sensitivity 2", got.Budget)
	}
}

func TestRoundTo(t *testing.T) {
	t.Parallel()
	tests := []struct{ x, step, want float64 }{
		{12.34, 0.1, 12.3}, {12.35, 0.5, 12.5}, {7.5, 1, 8}, {-7.5, 1, -8}, {0.3000001, 0.1, 0.3}, {5, 0, 5},
		{1234, 100, 1200},
	}
	for _, test := range tests {
		if got := RoundTo(test.x, test.step); got != test.want {
			t.Errorf("RoundTo(%v, %v): got %v, want %v", test.x, test.step, got, test.want)
		}
	}
	if got := Digits(16.8712, 4); got != "16.87" {
		t.Errorf("Digits: got %s, want 16.87", got)
	}
}

// TestSaidHours: a time in the unit that people say it in.
func TestSaidHours(t *testing.T) {
	t.Parallel()
	for hours, want := range map[float64]string{
		0: "0 h", 1. / 3600: "1 s", 1. / 120: "30 s", 0.0833: "5 min", 0.5: "30 min", 0.9999: "1 h", 1.5: "1.5 h", 60: "60 h",
		160.25: "160 h", 1. / 60: "1 min",
	} {
		if got := SaidHours(hours, 3); got != want {
			t.Errorf("%v hours: got %q, want %q", hours, got, want)
		}
	}
}

// Twenty readings of a temperature, °C: JCGM 100:2008 (GUM), 4.4.3, table 1 (recalled):
// average 100.14, standard uncertainty of the average 0.33. Readings that are alike in
// eight digits: NIST StRD, NumAcc3 (recalled): 1 000 000.2 with a standard deviation of 0.1,
// here of its first three readings.
func TestMean(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		readings               []string
		mean, standard, within float64
	}{
		{[]string{"96.90", "98.18", "98.25", "98.61", "99.03", "99.49", "99.56", "99.74", "99.89", "100.07", "100.33",
			"100.42", "100.68", "100.95", "101.11", "101.20", "101.57", "101.84", "102.36", "102.72"}, 100.145, 0.333, 0.0005},
		{[]string{"1000000.2", "1000000.1", "1000000.3"}, 1000000.2, 0.1 / math.Sqrt(3), 1e-9},
		{[]string{"5", "5"}, 5, 0, 0},
	} {
		var readings []Decimal
		for _, r := range test.readings {
			readings = append(readings, MustDecimal(r))
		}
		mean, standard, err := Mean(readings)
		if err != nil || math.Abs(mean.Float64()-test.mean) > test.within || math.Abs(standard-test.standard) > test.within {
			t.Errorf("%v: got %v ± %v, %v, want %v ± %v", test.readings, mean, standard, err, test.mean, test.standard)
		}
	}
	// With the instrument's 0.4: √(0.3² + 0.4²).
	q := Quantity{MustDecimal("5"), Gram, Standard(MustDecimal("0.4")).Averaged(0.3)}
	if m, err := q.Measured("mg"); err != nil || math.Abs(m.Standard-500) > 1e-9 {
		t.Errorf("got ± %v mg, %v, want 500", m.Standard, err)
	}
}
