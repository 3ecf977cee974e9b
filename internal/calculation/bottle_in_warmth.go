package calculation

import (
	"meniscus/api"
	"meniscus/internal/quantity"
	"meniscus/internal/solution"
)

func (r *reader) warmBottle(b api.BottleInWarmth) solution.WarmBottle {
	return solution.WarmBottle{
		Solvents: r.amounts(atBottle, b.Solvents),
		Capacity: r.quantity(atBottle+"/capacity", &b.Capacity), ClosedAt: r.quantity(atBottle+"/closedAt", b.ClosedAt),
		Warm: r.quantity(atBottle+"/warm", b.Warm), Pressure: r.measured(atBottle+"/pressure", b.Pressure),
	}
}

func (w writer) warmBottle(a solution.WarmBottleAnswer) api.VapourAnswer {
	out := api.VapourAnswer{
		Answer: a.Answer, Assumed: w.assumptions(a.Assumed), Steps: texts(a.Steps), Advice: w.advice(a.Advice),
	}
	out.BottleInWarmth = &api.WarmBottle{
		Liquid: w.result(a.Liquid, quantity.Millilitre), LiquidWarm: w.result(a.LiquidWarm, quantity.Millilitre),
		HeadspaceWarm: Quantity(a.HeadspaceWarm, quantity.Millilitre),
		Overpressure:  quantityOr(a.Over, quantity.KiloPascal),
		BoilingPoint:  quantityOr(a.Boils, quantity.Celsius),
		FillAtMost:    Quantity(a.FillAtMost, quantity.Millilitre),
	}
	if w.full {
		warm := out.BottleInWarmth
		warm.Growth = new(Quantity(100*a.Growth, quantity.Percent))
		warm.Headspace = new(Quantity(a.Headspace, quantity.Millilitre))
		warm.VapourPressure = quantityOr(a.Vapour, quantity.KiloPascal)
		warm.Pressure = w.resultOr(a.Pressure, quantity.KiloPascal)
		warm.PressureIfClosedOverVapour = quantityOr(a.PressureLow, quantity.KiloPascal)
	}
	return out
}
