package material

import (
	"fmt"
	"math"
	"slices"
)

// Pressure is a vapour pressure at a temperature.
type Pressure struct {
	KPa float64
	// Extrapolated says that the temperature lies outside the range of the equation.
	Extrapolated bool
	// Of is the material whose equation was used, when it stands in for another
	// (m-xylene for the mixed isomers), else "".
	Of string
	// Equation is the form: antoine-log10, antoine-ln, dippr-101, or "point" for a
	// single figure at this temperature.
	Equation string
	Evidence Evidence
}

type pressureEquation struct {
	form      string
	c         [5]float64
	low, high float64 // K, NaN when not noted
	evidence  Evidence
}

var pressureForms = wordSet("antoine-log10", "antoine-ln", "dippr-101")

// at gives the vapour pressure in Pa at T in K:
//
//	antoine-log10: log10 P = A − B/(T + C)
//	antoine-ln:    ln P    = A − B/(T + C)
//	dippr-101:     ln P    = C1 + C2/T + C3 ln T + C4 T^C5
//
// Sources stand in the table: Poling and others, 5th edition;
// Landolt-Börnstein IV/20; Perry's Handbook, 8th edition, table 2-8.
func (p pressureEquation) at(kelvin float64) float64 {
	c := p.c
	switch p.form {
	case "antoine-log10":
		return math.Pow(10, c[0]-c[1]/(kelvin+c[2]))
	case "antoine-ln":
		return math.Exp(c[0] - c[1]/(kelvin+c[2]))
	default:
		return math.Exp(c[0] + c[1]/kelvin + c[2]*math.Log(kelvin) + c[3]*math.Pow(kelvin, c[4]))
	}
}

func (p pressureEquation) covers(kelvin float64) bool { return kelvin >= p.low && kelvin <= p.high }

// isomerFor names the pure isomer whose equation stands in for a mixture of
// isomers: m-xylene is the main one of commercial xylene.
var isomerFor = map[string]string{"xylene-mixed-isomers": "m-xylene"}

// VapourPressure gives the vapour pressure of a solvent at t in Cel: from an
// equation whose range holds t, else one whose range is not noted, else by
// extrapolation, which is said. ErrNoValue when there is no equation and no
// figure for that temperature (white spirit: 20 and 25 Cel only).
func (b *Base) VapourPressure(id string, celsius float64) (Pressure, error) {
	id = b.behavesAs(id)
	of := ""
	equations := b.pressures[id]
	if isomer, ok := isomerFor[id]; ok && len(equations) == 0 {
		equations, of = b.pressures[isomer], isomer
	}
	kelvin := celsius + 273.15
	if len(equations) == 0 || kelvin <= 0 {
		return b.pressurePoint(id, celsius)
	}
	best := slices.MinFunc(equations, func(x, y pressureEquation) int { return x.distance(kelvin) - y.distance(kelvin) })
	return Pressure{
		KPa: best.at(kelvin) / 1000, Extrapolated: best.distance(kelvin) == outside,
		Of: of, Equation: best.form, Evidence: best.evidence,
	}, nil
}

const (
	ranged   = iota // the range of the equation holds the temperature
	unranged        // the range is not noted; the equation is meant for the whole liquid
	outside         // the temperature lies outside
)

func (p pressureEquation) distance(kelvin float64) int {
	switch {
	case math.IsNaN(p.low):
		return unranged
	case p.covers(kelvin):
		return ranged
	default:
		return outside
	}
}

func (b *Base) pressurePoint(id string, celsius float64) (Pressure, error) {
	for _, f := range b.Property(id, VapourPressure, AnyGrade).All {
		if v, ok := f.Value.Mid(); ok && f.At == celsius && f.Rank != Doubted {
			return Pressure{KPa: v, Equation: "point", Evidence: f.Evidence}, nil
		}
	}
	return Pressure{}, fmt.Errorf("vapour pressure of %s at %g Cel: %w", id, celsius, ErrNoValue)
}

func readPressures(b *Base, r *reader) {
	r.table("vapour-pressures.tsv", "material form c1 c2 c3 c4 c5 low high remark source status", func(w row) {
		id := w.material(b, "material")
		p := pressureEquation{
			form: string(word(w, "form", pressureForms)), low: w.optional("low"), high: w.optional("high"),
			evidence: w.evidence(),
		}
		columns := []string{"c1", "c2", "c3"}
		if p.form == "dippr-101" {
			columns = append(columns, "c4", "c5")
		}
		for i, column := range columns {
			p.c[i] = w.number(column)
		}
		b.pressures[id] = append(b.pressures[id], p)
	})
}
