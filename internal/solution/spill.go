package solution

import (
	"math"

	"meniscus/internal/quantity"
)

// Spill is a pool of one liquid that evaporates from its surface, at a rate that stays the same until it is gone.
type Spill struct{ Area quantity.Quantity }

// Evaporation is how a spill goes.
type Evaporation struct {
	Rate  quantity.Outcome // g/min
	Hours quantity.Outcome // until it is gone
}

// formulaSpread is the relative standard uncertainty of the rate: what published formulas differ by.
const formulaSpread = 0.2

// Units and validity of the formulas.
const (
	feetPerMinute = 60 / 0.3048 // in one m/s, exact
	torr          = 101.325 / 760
	slowest       = 100 // ft/min, 0.51 m/s: up to it the penetration model holds
)

var (
	surfaceSource = Cited("open-surface-model", Read)
	spreadSource  = Cited("evaporation-spread", Computed)
	coolingSource = Cited("pool-cooling", Memory)
)

// penetration is the rate in g/s at which a pure liquid evaporates from an open surface indoors, in air that
// moves by at most 100 ft/min:
//
//	G = 8.24e-8 M^0.835 p (1/29 + 1/M)^0.25 v^0.5 A / (T^0.05 D^0.5 P^0.5)
//
//	M  g/mol       p  vapour pressure, torr     v  ft/min
//	A  area, cm²   D  its diameter, cm          T  K       P  pressure of the air, atm
//
// Source: penetration model of the United States Environmental Protection Agency, read at second hand.
func penetration(m, p, v, a, kelvin, atm float64) float64 {
	return 8.24e-8 * math.Pow(m, 0.835) * p * math.Pow(1./29+1/m, 0.25) * math.Sqrt(v) * a /
		(math.Pow(kelvin, 0.05) * math.Sqrt(diameter(a)*atm))
}

// massTransfer is the same for faster air, in the same units and from the same source:
//
//	G = 1.93e-7 M^0.78 p (1/29 + 1/M)^0.33 v^0.78 A / (T^0.4 D^0.11 (T^0.5 - 5.87)^(2/3))
func massTransfer(m, p, v, a, kelvin float64) float64 {
	return 1.93e-7 * math.Pow(m, 0.78) * p * math.Pow(1./29+1/m, 0.33) * math.Pow(v, 0.78) * a /
		(math.Pow(kelvin, 0.4) * math.Pow(diameter(a), 0.11) * math.Pow(math.Sqrt(kelvin)-5.87, 2./3))
}

// diameter is that of a round pool of this area.
func diameter(area float64) float64 { return 2 * math.Sqrt(area/math.Pi) }

// poolRate is the rate in g/h at which the spill evaporates. In air above 100 ft/min it is the greater of both
// formulas, so that faster air never gives less vapour.
func (s scene) poolRate(x []float64) float64 {
	e := s.solvent[0]
	kilopascal, _ := e.Pressure.at(x[inTemperature])
	p, v, a := kilopascal/torr, x[inAirSpeed]*feetPerMinute, x[inArea]*1e4
	kelvin, atm := x[inTemperature]+kelvinAtZero, x[inPressure]/standardPress
	rate := penetration(e.MolarMass, p, math.Min(v, slowest), a, kelvin, atm)
	if v > slowest {
		rate = math.Max(rate, massTransfer(e.MolarMass, p, v, a, kelvin))
	}
	return x[inFormula] * rate * 3600
}

// pool checks that the formulas hold.
func (c *checker) pool(s scene) {
	const at = "/release/spill"
	x := s.values()
	if len(s.solvent) != 1 {
		c.faults.Add("one-liquid", at, "The formulas hold for one liquid, whose composition does not change. For an upper "+
			"estimate ask for the whole amount of the part that evaporates fastest, %s.", s.mostVolatile(x).Name)
		return
	}
	switch kilopascal, basis := s.solvent[0].Pressure.at(x[inTemperature]); {
	case basis == pressureUnknown:
		c.faults.Add("vapour-pressure-unknown", at, "No vapour pressure of this liquid is held for this temperature, "+
			"so the time of its evaporation cannot be computed; atOnce gives a bound for the peak.")
	case kilopascal >= x[inPressure]:
		c.faults.Add("boils", at, "At this temperature the liquid boils, and the formulas do not hold; atOnce gives a "+
			"bound for the peak.")
	}
}

// mostVolatile is the solvent of the highest vapour pressure.
func (s scene) mostVolatile(x []float64) (most Evaporating) {
	highest := -1.0
	for _, e := range s.solvent {
		if p, _ := e.Pressure.at(x[inTemperature]); p > highest {
			most, highest = e, p
		}
	}
	return most
}

// evaporation is the rate of the spill and the time until it is gone.
func (s scene) evaporation() *Evaporation {
	both := quantity.PropagateAll(s.inputs, 2, func(x, out []float64) {
		rate := s.poolRate(x)
		out[0], out[1] = rate/60, s.poured.grams(x, 0)/rate
	})
	return &Evaporation{Rate: both[0], Hours: both[1]}
}

// spillValidity says how far the formulas go.
const spillValidity = "The rate is by a formula for a pool of one liquid below its boiling point in air of up to " +
	"0.5 m/s; in faster air it is the greater of that and another. It leaves out that the pool cools, which can halve " +
	"the rate, and does not hold for the last film, a cloth or a porous body."
