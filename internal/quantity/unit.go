package quantity

import (
	"maps"
	"math/big"
	"slices"
	"strings"

	"meniscus/internal/fault"
)

// Unit is a unit of measure by its case-sensitive code in the Unified Code for
// Units of Measure (UCUM). Only the units of the table in units.go are known.
type Unit string

// Kind is what a unit measures. Two units convert into each other exactly when
// their kinds are the same.
type Kind string

// unitRow is one row of the table: value in the kind's base unit = value × factor + offset.
type unitRow struct {
	unit   Unit
	kind   Kind
	factor string // a rational: "7/1000" or "28.349523125"
	offset string // empty except for temperatures
	said   string // how a sentence says it
}

// definition is a unitRow with its numbers read.
type definition struct {
	unitRow
	scale, shift *big.Rat
}

var units = readUnits(slices.Concat(unitTable, proofTable))

func readUnits(rows []unitRow) map[Unit]definition {
	known := make(map[Unit]definition, len(rows))
	for _, row := range rows {
		d := definition{unitRow: row, scale: rational(row.factor), shift: new(big.Rat)}
		if row.offset != "" {
			d.shift = rational(row.offset)
		}
		known[row.unit] = d
	}
	return known
}

// proof tells whether the unit is a proof, which only strengths are written in.
func (d definition) proof() bool { return d.unit == USProof || d.unit == BritishProof }

// rational reads a factor of the table: a decimal, or two decimals with a slash.
func rational(s string) *big.Rat {
	above, below, divided := strings.Cut(s, "/")
	if !divided {
		below = "1"
	}
	a, aOK := new(big.Rat).SetString(above)
	b, bOK := new(big.Rat).SetString(below)
	if !aOK || !bOK {
		panic("quantity: bad factor in the table of units: " + s)
	}
	return a.Quo(a, b)
}

// ParseUnit gives the unit with this code, or a fault that lists the known ones.
func ParseUnit(code string) (Unit, error) {
	if d, ok := units[Unit(code)]; ok && !d.proof() {
		return Unit(code), nil
	}
	if unit := spelledRate(code); unit.Kind() == Rate {
		return unit, nil
	}
	return "", fault.New("unit-unknown", "",
		"The unit is not known here; units are UCUM codes, such as g, kg, mL, L, [oz_av], [foz_us], g/dL, %% or Cel.")
}

// airChanges are the usual words for air changes an hour, in small letters; common practice.
var airChanges = []string{"ach", "ac/h", "ac/hr", "air changes/h", "air changes/hr", "air changes/hour", "per hour"}

// spelledRate is the unit that another spelling of a rate would name: UCUM has /h and h-1 for 1/h.
func spelledRate(code string) Unit {
	if slices.Contains(airChanges, strings.ToLower(code)) {
		return "1/h"
	}
	if of, found := strings.CutPrefix(code, "/"); found {
		return Unit("1/" + of)
	}
	if of, found := strings.CutSuffix(code, "-1"); found {
		return Unit("1/" + of)
	}
	return ""
}

// Kind tells what the unit measures; it is empty for a unit that is not known.
func (u Unit) Kind() Kind { return units[u].kind }

// Said gives the unit as a sentence says it: "g per 100 mL" for g/dL.
func (u Unit) Said() string { return units[u].said }

// Units lists the known units, in the order of their codes.
func Units() []Unit {
	return slices.DeleteFunc(slices.Sorted(maps.Keys(units)), func(u Unit) bool { return units[u].proof() })
}

// UnitsOf lists the known units of a kind, in the order of their codes.
func UnitsOf(kind Kind) []Unit {
	return slices.DeleteFunc(Units(), func(u Unit) bool { return u.Kind() != kind })
}

// codes joins unit codes for a sentence.
func codes(list []Unit) string {
	texts := make([]string, len(list))
	for i, u := range list {
		texts[i] = string(u)
	}
	return strings.Join(texts, ", ")
}

// Convert gives the exact value in another unit of the same kind.
//
//	x₂ = (x₁·f₁ + o₁ − o₂) / f₂
//
// with f the factor and o the offset of each unit to the base unit of the kind.
func Convert(x *big.Rat, from, to Unit) (*big.Rat, error) {
	a, known := units[from]
	b, wanted := units[to]
	if !known || !wanted {
		return nil, fault.New("unit-unknown", "", "The unit is not known here; units are UCUM codes, such as g, mL or Cel.")
	}
	if a.kind != b.kind {
		return nil, fault.New("unit-kind", "", "The unit measures %s, and %s is needed here: one of %s.", a.kind,
			b.kind, codes(UnitsOf(b.kind)))
	}
	y := new(big.Rat).Mul(x, a.scale)
	y.Add(y, a.shift).Sub(y, b.shift)
	return y.Quo(y, b.scale), nil
}

// Factor gives the number by which a difference in one unit is multiplied to give
// it in another of the same kind (offsets play no part); 0 if the kinds differ.
func Factor(from, to Unit) float64 {
	a, known := units[from]
	b, wanted := units[to]
	if !known || !wanted || a.kind != b.kind {
		return 0
	}
	if from == to {
		return 1
	}
	f, _ := new(big.Rat).Quo(a.scale, b.scale).Float64()
	return f
}
