package solution

import (
	"math"

	"meniscus/internal/fault"
	"meniscus/internal/quantity"
)

// Formaldehyde asks how to dilute a formaldehyde stock ("formalin", about 37 % by
// mass) to a working strength. A strength can mean two things: "10 % formalin"
// counts the stock as supplied, and holds about 4 g of formaldehyde in 100 mL.
type Formaldehyde struct {
	Stock  FormaldehydeStock
	Target FormaldehydeTarget
	// Amount is the finished solution: a volume, or a mass for a target by mass.
	Amount quantity.Quantity
	Buffer *PhosphateBuffer
	Instruments
}

// FormaldehydeStock is the solution as bought.
type FormaldehydeStock struct {
	// One of the two: formaldehyde in % by mass, or g of it in 100 mL.
	ByMass, PerVolume quantity.Quantity
	Density           quantity.Quantity // at 20 °C; may be left out up to about 37 % by mass and 40 g in 100 mL
	Buffered          bool              // it holds its phosphate salts already
}

// FormaldehydeTarget is the wanted strength; exactly one is set.
type FormaldehydeTarget struct {
	AsSupplied quantity.Quantity // % formalin: mL of stock in 100 mL of finished solution
	PerVolume  quantity.Quantity // g of formaldehyde in 100 mL of finished solution
	ByMass     quantity.Quantity // g of formaldehyde in 100 g of finished solution
}

// FormaldehydeTargetOf takes a wanted strength by what its basis counts: parts are of
// stock to water, made up to their sum, and one in n is 1 g of formaldehyde in n mL.
func FormaldehydeTargetOf(s Strength) (FormaldehydeTarget, bool) {
	switch s.Basis {
	case AsSuppliedVolume:
		return FormaldehydeTarget{AsSupplied: s.Number}, true
	case MassPerSolutionVolume:
		return FormaldehydeTarget{PerVolume: s.Number}, true
	case MassFraction:
		return FormaldehydeTarget{ByMass: s.Number}, true
	case PartsByVolume, OneIn:
		var c checker
		t := s.read("", &c)
		if len(c.faults) > 0 {
			return FormaldehydeTarget{}, false
		}
		if s.Basis == OneIn {
			q, err := quantity.Of(t.Value, quantity.GramsPerML)
			return FormaldehydeTarget{PerVolume: q}, err == nil
		}
		q, err := quantity.Of(100*t.Value, quantity.Percent)
		return FormaldehydeTarget{AsSupplied: q}, err == nil
	}
	return FormaldehydeTarget{}, false
}

// Where a stock is formalin: 37 to 40 % of formaldehyde, as the source of the dilutions says
// it, with the two that labels round to on each side. By mass or in 100 mL alike.
const (
	formalinLeast, formalinMost = 35, 42 // %
	// tenth is g of formaldehyde in 100 mL of 10 % formalin: 3.7 to 4.0.
	tenth = 4.0
)

// Density of 37 % formaldehyde solution, g/mL at 20 °C: 1.083 with methanol as it
// is sold, 1.08 to 1.09 in what is recalled. It is used where the label gives
// none and the strength lies within the range that it belongs to.
const (
	formalinDensity      = 1.083
	formalinDensityRange = 0.005 // half-width, rectangular
	formalinLow          = 36.5  // % by mass
	formalinHigh         = 38
	formalinLowVolume    = 39.5 // g in 100 mL
	formalinHighVolume   = 41
)

var (
	formalinDensitySource = Cited("formalin-density", Memory)
	weakDensitySource     = Cited("weak-formaldehyde-density", Memory)
	formalinSheet         = Cited("formalin-sheet", Read)
	formaldehydeClass     = Cited("formaldehyde-classification", Read)
)

// FormaldehydeAnswer is what to measure and what it makes.
type FormaldehydeAnswer struct {
	StockVolume quantity.Outcome // mL
	StockMass   quantity.Outcome // g
	// Water is what is left to fill: mL by difference of volumes for a volume made
	// up to a mark, g for a target by mass.
	Water     quantity.Outcome
	WaterUnit quantity.Unit
	// The two readings of the finished solution. ByMass is nil unless it was made
	// by mass; the volume readings are nil when it was, and Formalin where the stock is none.
	Formalin, PerVolume, ByMass *quantity.Outcome
	// StockPerVolume is the stock's own strength, g in 100 mL.
	StockPerVolume quantity.Outcome
	AsRounded      FormaldehydeRounded
	Salts          []BufferSalt
	leftOut        []BufferSalt // of a buffer that is asked one salt at a time
	Hazards        []HazardLine
	Advice
}

// HazardLine is one hazard statement.
type HazardLine struct {
	Code, Text string
	Source     Source
}

// Positions of the inputs of a formaldehyde computation.
const (
	stockStrength = iota // formaldehyde, g in 1 g or g in 1 mL
	stockDensity         // g/mL
	targetNumber         // as a fraction, or g/mL
	finishedAmount
)

// ComputeFormaldehyde answers the question, or gives every fault in it.
func ComputeFormaldehyde(f Formaldehyde) (FormaldehydeAnswer, error) {
	var c checker
	var a FormaldehydeAnswer
	byMass := !f.Target.ByMass.IsZero()
	inputs := []quantity.Input{
		f.strength(&c),
		{Name: "the density of the stock", Unit: quantity.GramsPerML, Measured: f.density(&c, &a.Advice)},
		{Name: "the wanted strength", Unit: quantity.One, Measured: f.target(&c)},
		{Name: "the finished amount", Unit: quantity.Millilitre, Measured: f.amount(&c, byMass)},
	}
	if byMass {
		inputs[finishedAmount].Unit = quantity.Gram
	}
	if f.Buffer != nil {
		f.Buffer.check(&c)
	}
	if err := c.faults.Err(); err != nil {
		return FormaldehydeAnswer{}, err
	}
	if err := f.tooStrong(inputs); err != nil {
		return FormaldehydeAnswer{}, err
	}
	gauges := c.gauges("/instruments", f.Instruments)
	a.amounts(inputs, f)
	a.round(inputs, f, gauges, &c)
	if err := c.faults.Err(); err != nil {
		return FormaldehydeAnswer{}, err
	}
	if f.Buffer != nil {
		litres := inputs[finishedAmount].Value / 1000 // a litre of solution by mass is within 5 % of a kilogram
		a.Salts, a.leftOut = f.Buffer.weighed(litres)
	}
	a.Answer = a.says(gauges)
	a.advise(f, gauges)
	return a, nil
}

// density reads the density of the stock, or takes the recalled one near 37 %, and for a
// weaker stock that between water and 37 %.
func (f Formaldehyde) density(c *checker, notes *Advice) quantity.Measured {
	if !f.Stock.Density.IsZero() {
		return c.need("/stock/density", f.Stock.Density, quantity.GramsPerML, span{0.95, 1.25, false})
	}
	if f.isUsual() {
		notes.warn("density-recalled", Info, formalinDensitySource,
			"No density was given: 1.083 g/mL is taken for a stock near 37 %; the one on the label comes first.")
		return quantity.Measured{Value: formalinDensity, Standard: formalinDensityRange / math.Sqrt(3)}
	}
	share, err := f.said()
	if err != nil || share > formalinLowVolume {
		c.faults.Add("density-missing", "/stock/density",
			"The density of the stock is needed, in g per mL at 20 °C, from its label or data sheet; one is held here "+
				"only up to about 37 %% by mass.")
		return quantity.Exactly(1)
	}
	const water, half = 0.998, 0.01
	density := water + (formalinDensity-water)*share/37
	notes.warn("density-interpolated", Info, weakDensitySource, "No density was given: "+number(density)+
		" g/mL is taken, between water and a stock of 37 %; the one on the label comes first.")
	return quantity.Measured{Value: density, Standard: half / math.Sqrt(3)}
}

// said is the number of the stock's strength: % by mass, or g in 100 mL.
func (f Formaldehyde) said() (float64, error) {
	if f.Stock.PerVolume.IsZero() {
		return f.Stock.ByMass.In(quantity.Percent)
	}
	return f.Stock.PerVolume.In(quantity.GramsPerDL)
}

// isFormalin tells whether the stock is what formalin names.
func (f Formaldehyde) isFormalin() bool {
	share, err := f.said()
	return err == nil && share >= formalinLeast && share <= formalinMost
}

// strength reads that of the stock.
func (f Formaldehyde) strength(c *checker) quantity.Input {
	if f.Stock.PerVolume.IsZero() {
		return quantity.Input{Name: "the strength of the stock", Unit: quantity.One,
			Measured: c.need("/stock/strength", f.Stock.ByMass, quantity.One, span{0, 0.6, true})}
	}
	return quantity.Input{Name: "the strength of the stock", Unit: quantity.GramsPerML,
		Measured: c.need("/stock/strength", f.Stock.PerVolume, quantity.GramsPerML, span{0, 0.7, true})}
}

// isUsual tells whether the stock is as strong as it is commonly sold.
func (f Formaldehyde) isUsual() bool {
	if f.Stock.PerVolume.IsZero() {
		percent, err := f.Stock.ByMass.In(quantity.Percent)
		return err == nil && percent >= formalinLow && percent <= formalinHigh
	}
	c, err := f.Stock.PerVolume.In(quantity.GramsPerDL)
	return err == nil && c >= formalinLowVolume && c <= formalinHighVolume
}

// fraction is g of formaldehyde in 1 g of stock, and perML g of it in 1 mL.
func (f Formaldehyde) fraction(x []float64) float64 {
	if f.Stock.PerVolume.IsZero() {
		return x[stockStrength]
	}
	return x[stockStrength] / x[stockDensity]
}

func (f Formaldehyde) perML(x []float64) float64 {
	if f.Stock.PerVolume.IsZero() {
		return x[stockStrength] * x[stockDensity]
	}
	return x[stockStrength]
}

// target reads the wanted strength: a fraction, or g/mL for the one by volume.
func (f Formaldehyde) target(c *checker) quantity.Measured {
	t := f.Target
	said := 0
	for _, q := range []quantity.Quantity{t.AsSupplied, t.PerVolume, t.ByMass} {
		if !q.IsZero() {
			said++
		}
	}
	switch {
	case said != 1:
		c.faults.Add("target-choice", "/target",
			"Give the wanted strength once: %% formalin (as-supplied-volume), g of formaldehyde in 100 mL "+
				"(mass-per-solution-volume) or %% by mass (mass-fraction). 10 %% formalin holds about 4 g in 100 mL.")
		return quantity.Exactly(0.04)
	case !t.AsSupplied.IsZero():
		return c.need("/target", t.AsSupplied, quantity.One, span{0, 1, true})
	case !t.PerVolume.IsZero():
		return c.need("/target", t.PerVolume, quantity.GramsPerML, span{0, 0.7, true})
	}
	return c.need("/target", t.ByMass, quantity.One, span{0, 0.6, true})
}

// amount reads the finished amount. A target by mass needs a mass: the density of
// the working solution is not known here.
func (f Formaldehyde) amount(c *checker, byMass bool) quantity.Measured {
	if byMass {
		return c.need("/amount", f.Amount, quantity.Gram, span{0, 1e6, true})
	}
	return c.need("/amount", f.Amount, quantity.Millilitre, span{0, 1e6, true})
}

// tooStrong refuses a target above the stock.
func (f Formaldehyde) tooStrong(inputs []quantity.Input) error {
	x := values(inputs)
	want := x[targetNumber]
	limit, said := f.fraction(x), number(100*f.fraction(x))+" % by mass"
	if !f.Target.PerVolume.IsZero() {
		limit, said = f.perML(x), number(100*f.perML(x))+" g in 100 mL"
	}
	if f.Target.AsSupplied.IsZero() && want > limit {
		return fault.New("target-above-stock", "/target", "The stock holds %s, and diluting cannot make it stronger.", said)
	}
	return nil
}

// amounts computes, with w the mass fraction and ρ the density of the stock and V
// the finished volume (or m the finished mass):
//
//	formalin p:           V_s = p V
//	formaldehyde c g/mL:  V_s = c V/(w ρ)
//	by mass w₂:           m_s = w₂ m/w,  V_s = m_s/ρ
//
// Making up to a mark needs no additive volumes; the water by difference of
// volumes is an approximate amount to measure out.
func (a *FormaldehydeAnswer) amounts(inputs []quantity.Input, f Formaldehyde) {
	volume := func(x []float64) float64 {
		switch {
		case !f.Target.AsSupplied.IsZero():
			return x[targetNumber] * x[finishedAmount]
		case !f.Target.PerVolume.IsZero():
			return x[targetNumber] * x[finishedAmount] / f.perML(x)
		}
		return x[targetNumber] * x[finishedAmount] / f.fraction(x) / x[stockDensity]
	}
	byMass := !f.Target.ByMass.IsZero()
	out := quantity.PropagateAll(inputs, 6, func(x, out []float64) {
		v := volume(x)
		out[0], out[1] = v, v*x[stockDensity]
		out[2] = x[finishedAmount] - v
		if byMass {
			out[2] = x[finishedAmount] - v*x[stockDensity]
		}
		out[3] = 100 * v / x[finishedAmount]
		out[4] = 100 * v * f.perML(x) / x[finishedAmount]
		out[5] = 100 * f.perML(x)
	})
	a.StockVolume, a.StockMass, a.Water, a.StockPerVolume = out[0], out[1], out[2], out[5]
	a.WaterUnit = quantity.Millilitre
	if byMass {
		a.WaterUnit = quantity.Gram
		a.ByMass = &out[4] // by mass, out[4] is g of formaldehyde in 100 g
		return
	}
	a.PerVolume = &out[4]
	if f.isFormalin() {
		a.Formalin = &out[3]
	}
}

// formaldehydeHazards are the statements of the pure substance, which the
// harmonised entry lists for its solutions down to limits that are not held here.
// The codes, and the texts of H302 and H350, were read in the regulation as it applies from May 2026; before that it
// had H301, H311 and H331 in the place of H330 and H302.
var formaldehydeHazards = []HazardLine{
	{"H350", "May cause cancer.", clp},
	{"H341", "Suspected of causing genetic defects.", clpRecalled},
	{"H330", "Fatal if inhaled.", clpRecalled},
	{"H302", "Harmful if swallowed.", clp},
	{"H314", "Causes severe skin burns and eye damage.", clpRecalled},
	{"H317", "May cause an allergic skin reaction.", clpRecalled},
	{"EUH071", "Corrosive to the respiratory tract.", clpRecalled},
}

var (
	clp         = Cited("clp-2026", Verified)
	clpRecalled = Cited("clp-recalled", Memory)
)
