package solution

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"meniscus/internal/quantity"
)

// WaterSolution asks about one substance dissolved in water. Its density at a temperature or its strength by
// mass is given, and the other follows.
type WaterSolution struct {
	Solute      string // one of Solutes
	Density     quantity.Quantity
	Strength    *Strength
	Temperature quantity.Quantity
	// Volume at the temperature: what does it hold? May be left out.
	Volume quantity.Quantity
	// Cautions are what is to be known of the substance.
	Cautions []Caution
}

// WaterSolutionState is a solution in water in every measure.
type WaterSolutionState struct {
	ByMass      quantity.Outcome  // %
	PerVolume   quantity.Outcome  // g in 100 mL at the temperature
	Density     quantity.Outcome  // g/mL
	Temperature quantity.Outcome  // °C
	Dissolved   *quantity.Outcome // g in the volume, where that was given
}

// answer finds the strength of a density, or the density of a strength.
func (s WaterSolution) answer(c *spiritChecker, a EthanolWaterAnswer) (EthanolWaterAnswer, error) {
	const at = "/solution"
	f, known := soluteNamed(s.Solute)
	if !known {
		c.faults.Add("not-computable", at+"/solute", "No density of this in water is held here; of %s it is.", list(Solutes()))
		return EthanolWaterAnswer{}, c.faults.Err()
	}
	t := c.add("the temperature", quantity.Celsius, c.need(at+"/temperature", s.Temperature, quantity.Celsius, f.warmth))
	formula := c.add("what is known of the density", quantity.GramsPerML, quantity.Measured{Standard: f.standard})
	fromDensity := s.Strength == nil
	var given int
	switch {
	case s.Density.IsZero() == (s.Strength == nil):
		c.faults.Add("density-or-strength", at, "Give exactly one of density and strength; the other follows.")
	case fromDensity:
		given = c.density(at+"/density", s.Density, span{leastLiquid, mostLiquid, false})
	case s.Strength.Basis != MassFraction:
		c.faults.Add("strength-basis", at+"/strength/basis", "The strength of this is by mass (mass-fraction).")
	default:
		given = c.add("the strength", quantity.Percent, c.need(at+"/strength", s.Strength.Number, quantity.Percent,
			span{0, 100 * f.most, false}))
	}
	volume := -1
	if !s.Volume.IsZero() {
		volume = c.add("the volume", quantity.Millilitre, c.need(at+"/volume", s.Volume, quantity.Millilitre, volumeSpan))
	}
	if len(c.faults) == 0 && fromDensity {
		f.refuseOutside(c, at+"/density", given, t)
	}
	if err := c.faults.Err(); err != nil {
		return EthanolWaterAnswer{}, err
	}
	o := quantity.PropagateAll(c.inputs, 5, func(x, out []float64) {
		var w, rho float64
		if fromDensity {
			rho = x[given]
			w = f.strength(rho-x[formula], x[t])
		} else {
			w = x[given] / 100
			rho = f.density(w, x[t]) + x[formula]
		}
		out[0], out[1], out[2], out[3] = 100*w, 100*w*rho, rho, x[t]
		if volume >= 0 {
			out[4] = x[volume] * rho * w
		}
	})
	for _, i := range []int{0, 1, 4} { // a reading a little outside of the ends is of the end
		o[i].Value = math.Max(0, o[i].Value)
	}
	o[0].Value = math.Min(o[0].Value, 100*f.most)
	a.Solution = &WaterSolutionState{ByMass: o[0], PerVolume: o[1], Density: o[2], Temperature: o[3]}
	if volume >= 0 {
		a.Solution.Dissolved = &o[4]
	}
	a.Answer = a.Solution.says(f, fromDensity)
	a.cite(f.source)
	a.Cautions = append(a.Cautions, s.Cautions...)
	a.warn("one-substance-in-water", Warn, practice, "This holds for "+f.name+" in clean water alone, free of bubbles: "+
		"salts, alcohol and dirt, and lime that an acid has dissolved, change the density as well.")
	a.warn("density-formula", Info, f.source, fmt.Sprintf("This holds from %s to %s °C and up to %s %% by mass; "+
		"its standard deviation is %s kg/m³.", number(f.warmth.low), number(f.warmth.high), number(100*f.most),
		number(1000*f.standard)))
	return a, nil
}

// says is a solution in water in a sentence.
func (s WaterSolutionState) says(f aqueous, fromDensity bool) string {
	within := func(o quantity.Outcome) string { return o.Said() + " ± " + quantity.Digits(o.Expanded(), 2) }
	mass, density := s.ByMass.Said(), s.Density.Said()
	if fromDensity {
		mass = within(s.ByMass)
	} else {
		density = within(s.Density)
	}
	density += " g/mL at " + s.Temperature.Said() + " °C"
	strength := mass + " % of " + f.name + " by mass, " + s.PerVolume.Said() + " g in 100 mL"
	said := density + " is " + strength + "."
	if !fromDensity {
		said = strength + " is " + density + "."
	}
	if s.Dissolved != nil {
		said += " The volume holds " + s.Dissolved.Said() + " g of it."
	}
	return said
}

// aqueous is what is known of the density of one substance in water.
type aqueous struct {
	id, name string
	warmth   span    // °C
	most     float64 // mass fraction
	density  func(w, celsius float64) float64
	standard float64 // g/mL, of the formula
	source   Source
}

// strength is the mass fraction of a density, found by halving: the density grows with it, or falls. Beyond the ends, by
// no more than the readings are uncertain, it goes on as it does there.
func (f aqueous) strength(rho, celsius float64) float64 {
	const near = 1e-3
	low, high := 0.0, f.most
	none, most := f.density(low, celsius), f.density(high, celsius)
	grows := sign(most - none)
	if grows*(rho-none) < 0 {
		return (rho - none) / (f.density(near, celsius) - none) * near
	}
	if grows*(rho-most) > 0 {
		return high + (rho-most)/(most-f.density(high-near, celsius))*near
	}
	for range 60 {
		if middle := (low + high) / 2; grows*(f.density(middle, celsius)-rho) < 0 {
			low = middle
		} else {
			high = middle
		}
	}
	return (low + high) / 2
}

// refuseOutside refuses a density that no strength has, where that is more than its uncertainty.
func (f aqueous) refuseOutside(c *spiritChecker, pointer string, density, temperature int) {
	celsius, rho := c.inputs[temperature].Value, c.inputs[density].Measured
	none, most := f.density(0, celsius), f.density(f.most, celsius)
	margin := quantity.Coverage * math.Hypot(rho.Standard, f.standard)
	if rho.Value < min(none, most)-margin || rho.Value > max(none, most)+margin {
		c.faults.Add("density-out-of-range", pointer, "At %s °C water with %s has a density from %.4f to %.4f g per mL, up to "+
			"%s %% by mass: further this does not hold.", number(celsius), f.name, min(none, most), max(none, most),
			number(100*f.most))
	}
}

// soluteNamed finds a substance by its id.
func soluteNamed(id string) (aqueous, bool) {
	i := slices.IndexFunc(solutes, func(f aqueous) bool { return f.id == id })
	if i < 0 {
		return aqueous{}, false
	}
	return solutes[i], true
}

// Solutes are the ids of the substances whose density in water is held.
func Solutes() []string {
	ids := make([]string, len(solutes))
	for i, f := range solutes {
		ids[i] = f.id
	}
	return ids
}

// glycerolWater is the density of glycerol and water, g/mL, from 15 to 30 °C (Volk and Kähler 2018):
//
//	ρ = κ (ρw + φ (ρg − ρw))    φ the share of glycerol by volume before mixing
//	κ = 1 + A sin(π w^1.31)^0.81    ρg = 1273 − 0.612 t    A = 1.78e-6 t² − 1.82e-4 t + 1.41e-2
func glycerolWater(w, celsius float64) float64 {
	w = math.Min(math.Max(w, 0), 1)
	water, glycerol := waterDensity(celsius), (1273-0.612*celsius)/1000
	a := 1.78e-6*celsius*celsius - 1.82e-4*celsius + 1.41e-2
	contraction := 1 + a*math.Pow(math.Max(0, math.Sin(math.Pi*math.Pow(w, 1.31))), 0.81)
	return contraction / (w/glycerol + (1-w)/water)
}

// electrolyte is the density of one substance in water, g/mL (Laliberté and Cooper 2004), by its five coefficients:
//
//	1/ρ = (1 − w)/ρw + w/ρs    ρs = (c₀ w + c₁) exp(1e-6 (t + c₄)²) / (w + c₂ + c₃ t)
func electrolyte(c [5]float64) func(w, celsius float64) float64 {
	return func(w, celsius float64) float64 {
		apparent := (c[0]*w + c[1]) * math.Exp(1e-6*(celsius+c[4])*(celsius+c[4])) / (w + c[2] + c[3]*celsius)
		return 1 / ((1-w)/waterDensity(celsius) + 1000*w/apparent)
	}
}

var (
	glycerolSource    = Cited("volk-kaehler-2018", Read)
	electrolyteSource = Cited("laliberte-2009", Read)
)

// solutes are the substances; those of formulas have the ranges that these were fitted to, and those above the 40 °C to
// which the density of water is held here are cut there, and acetic acid at half, beyond which the density turns back.
//
// The standard deviations: glycerol as two implementations and a handbook differ (1 kg/m³); the others 1.44 kg/m³, of the
// authors' 59 electrolytes and 10 700 points.
var solutes = slices.SortedFunc(slices.Values(append([]aqueous{
	{"glycerol", "glycerol", span{15, 30, false}, 1, glycerolWater, 0.001, glycerolSource},
	fitted("acetic-acid", 5, 0.5, 647.289243971958, -1054.58226029586, -1.74610768626879, 0.000365566432763641, -822.999507010544),
	fitted("sodium-carbonate", 0, 0.2094, 0.000000545486543455015, 0.000000172154929405038, -0.0825850207323492,
		0.00168822949783412, 4705.39822185746),
	fitted("sodium-chloride", 0, 0.2659, -0.00324112223655149, 0.0636354335906616, 1.01371399467365, 0.0145951015210159,
		3317.34854426537),
	fitted("sodium-hydrogencarbonate", 0, 0.1264, 0.0377378060615898, 0.00710029652458366, 0.0735733388535116,
		0.00168369765511221, 3291.38382252025),
	fitted("sodium-hydroxide", 4, 0.5029, 319.020509469838, 528.592358475315, -0.102197896602724, 0.000350420706415566,
		765.970470238438),
	fitted("sucrose", 15, 0.5066, 532.919899042424, 13692.5881480438, 12.6127261369233, 0.0266415899284128, 649.049186827162),
}, tables...)), func(a, b aqueous) int { return strings.Compare(a.id, b.id) })

// fitted is a substance by the coefficients of Laliberté and Cooper.
func fitted(id string, cold, most float64, c ...float64) aqueous {
	return aqueous{id, strings.ReplaceAll(id, "-", " "), span{cold, 40, false}, most, electrolyte([5]float64(c)), 0.00144,
		electrolyteSource}
}
