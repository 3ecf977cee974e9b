package solution

import (
	"math"

	"meniscus/internal/quantity"
)

// Constants of vapour in air.
const (
	gasConstant   = 8.314462618 // J/(mol K), CODATA 2018, exact
	kelvinAtZero  = 273.15      // K at 0 °C, exact
	standardPress = 101.325     // kPa, one standard atmosphere, exact

	// conventionVolume is the volume of a mole of vapour at 25 °C and one
	// atmosphere, L/mol, by which NIOSH and OSHA convert their limits. R T/p is
	// 24.465: the convention is 0.06 % less. NIOSH rounds the molar mass to one
	// decimal first, so that its printed factors differ by up to 0.4 %, and a
	// printed limit in mg/m³ need not be its ppm times the factor: 250 ppm of
	// acetone is printed as 590 mg/m³ and computes to 594.
	conventionVolume = 24.45
)

// molarVolume is R T/p in L/mol for an ideal gas: 24.055 at 20 °C and one atmosphere.
func molarVolume(celsius, kilopascal float64) float64 {
	return gasConstant * (celsius + kelvinAtZero) / kilopascal
}

// ppmOf gives the parts per million by volume of c (g/m³) of a vapour of molar
// mass M (g/mol) in air whose mole takes v litres: ppm = 1000 c v/M.
func ppmOf(c, molarMass, v float64) float64 { return 1000 * c * v / molarMass }

// gramsPerM3 is the inverse of ppmOf: c = ppm M/(1000 v).
func gramsPerM3(ppm, molarMass, v float64) float64 { return ppm * molarMass / (1000 * v) }

// limitFactor is the mg/m³ in one ppm by the convention at a temperature: M/24.45 at 25 °C, else M p/(R T)
// at one atmosphere (24.055 L/mol at 20 °C).
func limitFactor(molarMass, celsius float64) float64 {
	if celsius == conventionCelsius {
		return molarMass / conventionVolume
	}
	return molarMass / molarVolume(celsius, standardPress)
}

// Evaporating is what vapour computations need to know of a solvent.
type Evaporating struct {
	Name      string
	MolarMass float64 // g/mol
	Density   Density
	Pressure  VapourPressure
	// Boils is the boiling point in °C at one atmosphere, the lower end of a range; nil if not known.
	Boils       *float64
	BoilsSource Source
	// Freezes is the freezing point in °C; nil if not known.
	Freezes       *float64
	FreezesSource Source
	// Flash is the closed-cup flash point in °C; nil if it has none or none is known.
	Flash *float64
	// LowerExplosive is % by volume in air; nil if there is none.
	LowerExplosive *float64
	Limits         []ExposureLimit
	// Water needs no limit, and none is missed of it.
	Water bool
	// Incoming is its concentration in the air that comes in, in parts of air or as a mass in it; the zero
	// quantity is clean air.
	Incoming quantity.Quantity
	// Carcinogen marks a solvent whose hazard statements name cancer (H350, H351).
	Carcinogen bool
	Cautions   []Caution // on its hazards, or that they are not known
	Sources    []Source
}

// LimitKind is the time over which a limit averages.
type LimitKind string

const (
	// WorkingDay is a time-weighted average over a working day.
	WorkingDay LimitKind = "working-day"
	// ShortTerm is an average over 15 minutes.
	ShortTerm LimitKind = "short-term"
	// Ceiling is not to be exceeded at any time.
	Ceiling LimitKind = "ceiling"
)

// ExposureLimit is a limit for one solvent.
type ExposureLimit struct {
	List   string // whose: "NIOSH REL", "OSHA PEL", or an institution's own
	Where  string // its jurisdiction, a code of ISO 3166 or EU; "" is the caller's own
	Kind   LimitKind
	PPM    float64
	Source Source
	Here   bool // the list holds where the caller is
	// Undecided says why air below it is not known to be below the limit where the caller is; "" where it is.
	Undecided string
}

// VapourPressure is what is known of a solvent's vapour pressure: a fitted
// equation, one or two values, or both.
type VapourPressure struct {
	// Equation gives kPa at a temperature in °C, and whether that lies inside the
	// range of the fit; nil if there is none.
	Equation   func(celsius float64) (kilopascal float64, fitted bool)
	At20, At25 float64 // kPa; 0 if not known
}

// pressureBasis is how a vapour pressure was found.
type pressureBasis int

const (
	pressureUnknown   pressureBasis = iota
	pressureFitted                  // inside the range of the fit
	pressureTabulated               // between or at the tabulated temperatures
	pressureExtended                // outside the range of fit or table: rough
)

// nearTable is how far from 20 to 25 °C the two tabulated values are trusted, K.
const nearTable = 5

// at gives the vapour pressure in kPa and how it was found. The fitted equation is
// used inside its range; near 20 and 25 °C the tabulated values; elsewhere
// whichever is available, as a rough figure. Two values give a line of ln p against
// 1/T (Clausius and Clapeyron, the heat of vaporisation taken as constant).
func (v VapourPressure) at(celsius float64) (float64, pressureBasis) {
	var equation float64
	if v.Equation != nil {
		p, fitted := v.Equation(celsius)
		if fitted {
			return p, pressureFitted
		}
		equation = p
	}
	table := v.At20 > 0 && v.At25 > 0
	switch near := celsius >= 20-nearTable && celsius <= 25+nearTable; {
	case table && near:
		return v.byLine(celsius), pressureTabulated
	case v.At20 > 0 && math.Abs(celsius-20) < 0.5:
		return v.At20, pressureTabulated
	case equation > 0:
		return equation, pressureExtended
	case table:
		return v.byLine(celsius), pressureExtended
	}
	return 0, pressureUnknown
}

// byLine runs the line of ln p against 1/T through the two tabulated values.
func (v VapourPressure) byLine(celsius float64) float64 {
	kelvin := celsius + kelvinAtZero
	const t20, t25 = 20 + kelvinAtZero, 25 + kelvinAtZero
	slope := math.Log(v.At25/v.At20) / (1/t20 - 1/t25)
	return v.At20 * math.Exp(slope*(1/t20-1/kelvin))
}

// poured is a list of amounts of solvents among the inputs of a computation: two
// inputs each, the amount in grams or in millilitres at 20 °C, and the density.
type poured struct {
	first    int // position of the first among the inputs
	byVolume []bool
}

// pour reads the amounts, and gives the inputs that they take.
func (c *checker) pour(shares []VapourShare, first int) (poured, []quantity.Input) {
	if n := len(shares); n < 1 || n > 40 {
		c.faults.Add("solvents-count", "/solvents", "Give from 1 to 40 solvents.")
	}
	p := poured{first: first}
	var inputs []quantity.Input
	for i, share := range shares {
		unit := quantity.Gram
		if share.Amount.Unit.Kind() == quantity.Volume {
			unit = quantity.Millilitre
		}
		p.byVolume = append(p.byVolume, unit == quantity.Millilitre)
		amount := c.need(share.at(i)+"/amount", share.Amount, unit, span{0, 1e6, true})
		inputs = append(inputs,
			quantity.Input{Name: "the amount of " + share.Solvent.Name, Unit: unit, Measured: amount},
			quantity.Input{Name: "the density of " + share.Solvent.Name, Unit: quantity.GramsPerML,
				Measured: share.Solvent.Density.Measured})
	}
	return p, inputs
}

// grams is the mass of amount i.
func (p poured) grams(x []float64, i int) float64 {
	amount, density := x[p.first+2*i], x[p.first+2*i+1]
	if p.byVolume[i] {
		return amount * density
	}
	return amount
}

// millilitres is the volume of amount i at 20 °C.
func (p poured) millilitres(x []float64, i int) float64 {
	amount, density := x[p.first+2*i], x[p.first+2*i+1]
	if p.byVolume[i] {
		return amount
	}
	return amount / density
}

// LimitInPPM gives a limit that is printed in mg/m³ alone in ppm, by the convention of its list: the
// temperature in °C at which that converts.
func LimitInPPM(mgPerM3, molarMass, celsius float64) float64 {
	return mgPerM3 / limitFactor(molarMass, celsius)
}
