package solution

import (
	"math"

	"meniscus/internal/quantity"
)

// Spill is a pool that evaporates from its surface. One liquid goes at a rate that stays the same until it is gone. Of
// several each goes as if it lay alone in the whole pool: over a mixture no part has more than the vapour pressure that
// it has alone, so that this is the most that it can give off.
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

// poolRate is the rate in g/h at which liquid i evaporates from the whole pool. In air above 100 ft/min it is the greater of both
// formulas, so that faster air never gives less vapour.
func (s scene) poolRate(x []float64, i int) float64 {
	e := s.solvent[i]
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
	for _, e := range s.solvent {
		switch kilopascal, basis := e.Pressure.at(x[inTemperature]); {
		case basis == pressureUnknown:
			c.faults.Add("vapour-pressure-unknown", at, "No vapour pressure of %s is held for this temperature, "+
				"so the time of its evaporation cannot be computed; atOnce gives a bound for the peak.", e.Name)
		case kilopascal >= x[inPressure]:
			c.faults.Add("boils", at, "At this temperature %s boils, and the formulas do not hold; atOnce gives a "+
				"bound for the peak.", e.Name)
		}
	}
}

// evaporation is the rate of the spill and the time until it is gone; of several liquids the sum of the rates and the
// time of the slowest.
func (s scene) evaporation() *Evaporation {
	both := quantity.PropagateAll(s.inputs, 2, func(x, out []float64) {
		out[0], out[1] = 0, 0
		for i := range s.solvent {
			rate := s.poolRate(x, i)
			out[0], out[1] = out[0]+rate/60, math.Max(out[1], s.poured.grams(x, i)/rate)
		}
	})
	return &Evaporation{Rate: both[0], Hours: both[1]}
}

// spillValidity says how far the formulas go.
const spillValidity = "The rate is by a formula for a pool of one liquid below its boiling point in air of up to " +
	"0.5 m/s; in faster air it is the greater of that and another. It leaves out that the pool cools, which can halve " +
	"the rate, and does not hold for the last film, a cloth or a porous body."

// mixtureSpill says what the figures of a spill of several liquids are worth.
const mixtureSpill = "Each liquid is computed as if it lay alone in the whole pool: from a mixture, or with resin in it, no " +
	"liquid evaporates faster than that. Rates and peaks are the most that there can be; how much less it is, and when " +
	"the last of it has gone, is not known: a skin of resin and a slow part hold solvent back."
