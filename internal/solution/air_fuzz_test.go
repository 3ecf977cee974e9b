package solution

import (
	"testing"

	"meniscus/internal/fault"
	"meniscus/internal/quantity"
)

// of makes a quantity of any number; a number that cannot be written gives the zero quantity.
func of(x float64, unit quantity.Unit) quantity.Quantity {
	q, _ := quantity.Of(x, unit)
	return q
}

// mustBeSound fails unless the outcomes are finite or the error is a fault.
func mustBeSound(t *testing.T, err error, outcomes ...quantity.Outcome) {
	t.Helper()
	if err != nil {
		if fault.From(err) == nil {
			t.Errorf("not a fault: %v", err)
		}
		return
	}
	for _, o := range outcomes {
		if !o.Finite() {
			t.Errorf("not finite: %+v", o)
		}
	}
}

func FuzzWarmBottle(f *testing.F) {
	f.Add(450.0, 520.0, 20.0, 76.0)
	f.Add(1e308, 1e-308, -20.0, 90.0)
	f.Add(1e-30, 1e6, 50.0, 50.0)
	f.Fuzz(func(t *testing.T, amount, capacity, closed, warm float64) {
		a, err := ComputeWarmBottle(WarmBottle{
			Solvents: []VapourShare{{Solvent: acetone(), Amount: of(amount, "mL")},
				{Solvent: toluene(), Amount: of(amount, "g")}},
			Capacity: of(capacity, "mL"), ClosedAt: of(closed, "Cel"), Warm: of(warm, "Cel"),
		})
		mustBeSound(t, err, a.Liquid, a.LiquidWarm)
		if a.Pressure != nil {
			mustBeSound(t, err, *a.Pressure)
		}
	})
}

func FuzzUptake(f *testing.F) {
	f.Add(412.6, 421.9, 0.06, uint8(0))
	f.Add(1e-308, 1e308, 1.0, uint8(1))
	f.Fuzz(func(t *testing.T, before, after, share float64, state uint8) {
		drying := []Drying{TouchDry, HandlingDry, Dried, DryingUnknown}[state%4]
		a, err := ComputeUptake(Uptake{ByWeight: &UptakeByWeight{Before: of(before, "g"), After: of(after, "g"),
			Drying: drying, Solution: of(share, "1"), Retained: of(share, "1")}})
		if a.Solids != nil {
			mustBeSound(t, err, *a.Solids, *a.PerMass)
		} else {
			mustBeSound(t, err)
		}
		a, err = ComputeUptake(Uptake{ByVolume: &UptakeByVolume{Solids: of(share, "g/dL"), Applied: of(after, "mL"),
			Returned: of(before, "mL")}, Area: of(share, "m2")})
		if a.Solids != nil {
			mustBeSound(t, err, *a.Solids)
		} else {
			mustBeSound(t, err)
		}
	})
}

func FuzzFormaldehyde(f *testing.F) {
	f.Add(37.0, 1.083, 10.0, 1000.0, uint8(0))
	f.Add(1e308, 1e-308, 1e-30, 1e30, uint8(1))
	f.Fuzz(func(t *testing.T, stock, density, want, amount float64, kind uint8) {
		target := []FormaldehydeTarget{{AsSupplied: of(want, "%")}, {PerVolume: of(want, "g/dL")},
			{ByMass: of(want, "%")}}[kind%3]
		unit := []quantity.Unit{"mL", "mL", "g"}[kind%3]
		a, err := ComputeFormaldehyde(Formaldehyde{
			Stock:  FormaldehydeStock{ByMass: of(stock, "%"), Density: of(density, "g/mL")},
			Target: target, Amount: of(amount, unit), Buffer: &PhosphateBuffer{},
		})
		mustBeSound(t, err, a.StockVolume, a.StockMass, a.Water, a.StockPerVolume)
	})
}

func FuzzSolventBlend(f *testing.F) {
	f.Add(80.0, 20.0, true)
	f.Add(1e-30, 100.0, false)
	f.Add(1e308, -1e308, true)
	f.Fuzz(func(t *testing.T, a, b float64, byMass bool) {
		blend := SolventBlend{ByMass: byMass, Shares: []BlendShare{{inBlend("ethanol"), of(a, "%")},
			{inBlend("water"), of(b, "%")}}}
		answer, err := ComputeSolventBlend(blend)
		if answer.Density != nil {
			mustBeSound(t, err, *answer.Density)
		} else {
			mustBeSound(t, err)
		}
		if err == nil {
			wellFormed(t, TeasTriangle(answer))
		}
	})
}
