package solution

import (
	"testing"

	"meniscus/internal/quantity"
)

// The freezing point of cyclohexane is 6.7 °C and that of acetone −94.9 °C, CRC Handbook.

func coldCyclohexane() Component {
	return Component{ID: "cyclohexane", Name: "cyclohexane", Phase: Liquid, Freezes: new(6.7),
		Density: Density{Measured: quantity.Exactly(0.7785)}}
}

func cyclohexaneVapour() Evaporating {
	return Evaporating{Name: "cyclohexane", MolarMass: 84.16, Density: slope(0.7785, 0.00094), Freezes: new(6.7),
		Pressure: VapourPressure{At20: 10.3, At25: 13.0}}
}

func TestMakeUpRefusesAFrozenSolvent(t *testing.T) {
	t.Parallel()
	at := func(celsius string, solvent Solvent) error {
		_, err := MakeUp(MakeUpInput{
			Resin: Resin{Solid: ptr(copolymer())}, Solvent: solvent, Strength: PercentOf("10", MassFraction),
			Amount: Wanted{Solvent: quantity.New("150", "mL")}, Temperature: quantity.New(celsius, quantity.Celsius),
		})
		return err
	}
	wantFault(t, at("5", Pure(coldCyclohexane())), "frozen", "/temperature")
	if err := at("7", Pure(coldCyclohexane())); err != nil {
		t.Errorf("just above its freezing point: got %v", err)
	}
}

func TestWarmBottleRefusesAFrozenSolvent(t *testing.T) {
	t.Parallel()
	w := bottleOf(cyclohexaneVapour(), "500", "1000", "40")
	w.ClosedAt = quantity.New("5", quantity.Celsius)
	_, err := ComputeWarmBottle(w)
	wantFault(t, err, "frozen", "/closedAt")
	w.Solvents = append(w.Solvents, VapourShare{Solvent: acetone(), Amount: quantity.New("100", "mL")})
	if a, err := ComputeWarmBottle(w); err != nil || !hasWarning(a.Advice, "may-freeze") {
		t.Errorf("with acetone: got %v and %v, want a warning", err, codes(a.Advice))
	}
	w.ClosedAt = quantity.New("7", quantity.Celsius)
	if a, err := ComputeWarmBottle(w); err != nil || hasWarning(a.Advice, "may-freeze") {
		t.Errorf("liquid: got %v and %v, want no warning", err, codes(a.Advice))
	}
}

func TestVapourWarnsOfAFrozenSolvent(t *testing.T) {
	t.Parallel()
	for celsius, frozen := range map[string]bool{"5": true, "7": false} {
		room := studio()
		room.Temperature = quantity.New(celsius, quantity.Celsius)
		a := mustVapour(t, Vapour{Solvents: []VapourShare{{Solvent: cyclohexaneVapour(), Amount: quantity.New("10", "mL")}},
			Release: steady("1"), Room: room})
		if got := hasWarning(a.Advice, "may-freeze"); got != frozen {
			t.Errorf("at %s °C: got %v, want frozen %t", celsius, codes(a.Advice), frozen)
		}
	}
}
