package solution

import (
	"math"
	"testing"

	"meniscus/internal/fault"
	"meniscus/internal/quantity"
)

func bottleOf(e Evaporating, amount, capacity, warm string) WarmBottle {
	return WarmBottle{
		Solvents: []VapourShare{{Solvent: e, Amount: quantity.New(amount, "mL")}},
		Capacity: quantity.New(capacity, "mL"), Warm: quantity.New(warm, quantity.Celsius),
	}
}

// The pressure of acetone in a large headspace tends to warmed air plus vapour
// pressure, p (T₂/T₁) + p_v, and its vapour pressure at the boiling point (56.1 °C,
// CRC Handbook) is one atmosphere.
func TestWarmBottlePressure(t *testing.T) {
	t.Parallel()
	a, err := ComputeWarmBottle(bottleOf(acetone(), "1", "100000", "56.1"))
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(*a.Vapour/standardPress-1) > 0.005 {
		t.Errorf("vapour pressure at the boiling point: got %g kPa, want 101.3 within 0.5 %%", *a.Vapour)
	}
	want := standardPress*(56.1+273.15)/293.15 + *a.Vapour
	if math.Abs(a.Pressure.Value/want-1) > 1e-4 {
		t.Errorf("pressure in a large headspace: got %g, want %g kPa", a.Pressure.Value, want)
	}
	if !(*a.PressureLow < a.Pressure.Value) || math.Abs(*a.Over-(a.Pressure.Value-standardPress)) > 1e-9 {
		t.Errorf("closed over vapour: got %g, want less than %g", *a.PressureLow, a.Pressure.Value)
	}
	if !hasWarning(a.Advice, "boils") {
		t.Errorf("at its boiling point: got %v, want boils", codes(a.Advice))
	}
}

// The growth of acetone from 20 to 40 °C by its density: 791.16/768.31 - 1 by the
// VDI Heat Atlas fit, 2.97 %; the straight slope gives that within 0.1 %.
func TestWarmBottleGrowth(t *testing.T) {
	t.Parallel()
	a, err := ComputeWarmBottle(bottleOf(acetone(), "800", "1000", "40"))
	if err != nil {
		t.Fatal(err)
	}
	if want := 791.16/768.31 - 1; math.Abs(a.Growth-want) > 0.001 {
		t.Errorf("growth: got %.4f, want %.4f", a.Growth, want)
	}
	if math.Abs(a.Liquid.Value-800) > 1e-9 {
		t.Errorf("800 mL at 20 °C: got %g", a.Liquid.Value)
	}
}

// A bottle filled to the neck has no room for the warm liquid.
func TestWarmBottleFull(t *testing.T) {
	t.Parallel()
	full := bottleOf(acetone(), "980", "1000", "50")
	full.Warm = quantity.Quantity{}
	a, err := ComputeWarmBottle(full)
	if err != nil {
		t.Fatal(err)
	}
	if a.HeadspaceWarm > 0 || a.Pressure != nil || !hasWarning(a.Advice, "bottle-full") {
		t.Errorf("a full bottle: got headspace %g, pressure %v, %v", a.HeadspaceWarm, a.Pressure, codes(a.Advice))
	}
	if len(a.Assumed) != 3 || a.Assumed[1].Value != hottestCar {
		t.Errorf("assumed: got %+v, want the temperatures and the pressure", a.Assumed)
	}
	fill := bottleOf(acetone(), number(a.FillAtMost), "1000", "76")
	if b, err := ComputeWarmBottle(fill); err != nil || math.Abs(b.HeadspaceWarm-50) > 1 {
		t.Errorf("filled as told: headspace %g (%v), want a twentieth of the bottle", b.HeadspaceWarm, err)
	}
}

// Without vapour pressures nothing is said of the pressure.
func TestWarmBottleUnknownPressure(t *testing.T) {
	t.Parallel()
	e := acetone()
	e.Pressure = VapourPressure{}
	a, err := ComputeWarmBottle(bottleOf(e, "500", "1000", "60"))
	if err != nil || a.Pressure != nil || !hasWarning(a.Advice, "pressure-unknown") {
		t.Errorf("no vapour pressure: got %v, %v, %v", a.Pressure, codes(a.Advice), err)
	}
}

func TestWarmBottleFaults(t *testing.T) {
	t.Parallel()
	for name, tt := range map[string]struct {
		w       WarmBottle
		pointer string
	}{
		"too small": {bottleOf(acetone(), "1200", "1000", "60"), "/capacity"},
		"colder":    {bottleOf(acetone(), "500", "1000", "5"), "/warm"},
		"oven":      {bottleOf(acetone(), "500", "1000", "180"), "/warm"},
		"nothing":   {WarmBottle{}, "/solvents"},
	} {
		_, err := ComputeWarmBottle(tt.w)
		found := false
		for _, f := range fault.From(err) {
			found = found || f.Pointer == tt.pointer
		}
		if !found {
			t.Errorf("%s: got %v, want a fault at %s", name, err, tt.pointer)
		}
	}
}
