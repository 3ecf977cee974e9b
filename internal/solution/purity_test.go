package solution

import (
	"strings"
	"testing"

	"meniscus/internal/fault"
	"meniscus/internal/quantity"
)

// Guideline for disinfection of the Centers for Disease Control and Prevention, appendix E,
// chlorine powder, example 2: of a powder with 35 % of chlorine 14.3 g go into each litre
// of water for 0.5 %; (0.5/35) × 1000 = 14.286.
func TestPowderByItsContent(t *testing.T) {
	t.Parallel()
	a := mustMakeUp(t, MakeUpInput{
		Resin: Resin{Solid: &Component{ID: "name:chlorine", Name: "chlorine", Phase: Solid},
			Purity: &Purity{Assay: quantity.New("35", "%"), Water: liquidWater()}},
		Solvent: Pure(liquidWater()), Strength: Per100("0.5", MassPerSolventVolume),
		Amount: Wanted{Solvent: quantity.New("1", "L")},
	})
	within(t, "powder, g", a.Main.Ingredients[0].Exact, 14.286, 0.0005)
}

// What is weighed is the content divided by the assay of the dry product and by what is dry
// of it, on every basis; the label names the substance and its solvent alone.
func TestWeighedByContent(t *testing.T) {
	t.Parallel()
	in := MakeUpInput{Resin: Resin{Solid: ptr(copolymer())}, Solvent: Pure(liquidAcetone())}
	for _, c := range []struct {
		basis  Basis
		amount Wanted
		want   float64 // g of the substance
	}{
		{MassPerSolutionVolume, Wanted{Finished: quantity.New("200", "mL")}, 20},
		{MassPerSolventVolume, Wanted{Solvent: quantity.New("200", "mL")}, 20},
		{MassFraction, Wanted{Finished: quantity.New("300", "g")}, 30},
	} {
		number := quantity.New("10", c.basis.Unit())
		in.Strength, in.Amount, in.Resin.Purity = Strength{Basis: c.basis, Number: number}, c.amount, nil
		within(t, string(c.basis)+", pure", mustMakeUp(t, in).Main.Ingredients[0].Exact, c.want, 1e-9)
		in.Resin.Purity = &Purity{Assay: quantity.New("98", "%"), Moisture: quantity.New("4", "%"), Water: liquidWater()}
		a := mustMakeUp(t, in)
		within(t, string(c.basis), a.Main.Ingredients[0].Exact, c.want/(0.98*0.96), 1e-9)
		within(t, string(c.basis)+", strength", a.Target.On(c.basis).Value, 10, 1e-9)
		if label := strings.Join(a.Label, ", "); strings.Contains(label, "water") || strings.Contains(label, "other matter") {
			t.Errorf("%s: got the label %q, want the substance and its solvent", c.basis, label)
		}
	}
}

// An assay of 95 ± 1 % (standard) is 1/95 of the strength, and the moisture of 5 ± 1 % too.
func TestPurityIsInTheBudget(t *testing.T) {
	t.Parallel()
	said := func(percent string) quantity.Quantity {
		return quantity.Quantity{Value: quantity.MustDecimal(percent), Unit: "%",
			Uncertainty: quantity.Standard(quantity.MustDecimal("1"))}
	}
	for name, of := range map[string]Purity{
		"the assay of ": {Assay: said("95")}, "the moisture of ": {Moisture: said("5"), Water: liquidWater()},
	} {
		a := mustMakeUp(t, MakeUpInput{Resin: Resin{Solid: ptr(copolymer()), Purity: &of}, Solvent: Pure(liquidAcetone()),
			Strength: Per100("10", MassPerSolutionVolume), Amount: Wanted{Finished: quantity.New("950", "mL")}})
		v := a.Main.Strength
		within(t, name+"relative uncertainty", v.Standard/v.Value, 1.0/95, 1e-9)
		if len(v.Budget) != 1 || !strings.HasPrefix(v.Budget[0].Name, name) {
			t.Errorf("%s: got the budget %+v", name, v.Budget)
		}
	}
}

func TestImpossiblePurity(t *testing.T) {
	t.Parallel()
	for pointer, of := range map[string]Purity{
		"/resin/solid/assay":    {Assay: quantity.New("0", "%")},
		"/resin/solid/moisture": {Moisture: quantity.New("100", "%")},
	} {
		_, err := MakeUp(MakeUpInput{Resin: Resin{Solid: ptr(copolymer()), Purity: &of}, Solvent: Pure(liquidAcetone()),
			Strength: PercentOf("10", MassFraction), Amount: Wanted{Finished: quantity.New("100", "g")}})
		if list := fault.From(err); len(list) != 1 || list[0].Code != "out-of-range" || list[0].Pointer != pointer {
			t.Errorf("%+v: got %v, want out-of-range at %s", of, err, pointer)
		}
	}
}
