package solution

import (
	"strings"

	"meniscus/internal/quantity"
)

// Basis says what the number of a strength counts.
type Basis string

// The bases. Each but UnknownBasis is a ratio of two amounts that add up when solutions
// are mixed (functional.go), which is what all the arithmetic here rests on.
const (
	MassPerSolutionVolume Basis = "mass-per-solution-volume" // g of solids in 100 mL of finished solution
	MassPerSolventVolume  Basis = "mass-per-solvent-volume"  // g of solids to each 100 mL of solvent
	MassFraction          Basis = "mass-fraction"            // g of solids in 100 g of solution
	VolumeFraction        Basis = "volume-fraction"          // mL in 100 mL of finished solution, both at 20 °C
	PartsByVolume         Basis = "parts-by-volume"          // a : b as measured
	PartsByMass           Basis = "parts-by-mass"            // a : b as weighed
	OneIn                 Basis = "one-in"                   // 1 g in n mL of finished solution
	AsSuppliedVolume      Basis = "as-supplied-volume"       // mL of a product as supplied in 100 mL of finished solution
	UnknownBasis          Basis = "unknown"                  // a record that does not say
)

// Bases lists the bases in the order in which they are shown.
var Bases = []Basis{
	MassPerSolutionVolume, MassPerSolventVolume, MassFraction, VolumeFraction,
	PartsByVolume, PartsByMass, OneIn, AsSuppliedVolume, UnknownBasis,
}

// Proof is the unit of a number written as "proof", which may be the US or the British one.
const Proof quantity.Unit = "proof"

// Strength is how strong a solution is, as it was said. Which members count
// depends on the basis.
type Strength struct {
	Basis Basis
	// Number with its unit: all bases but the parts. For one-in it is n, in mL/g;
	// for UnknownBasis it has no unit.
	Number quantity.Quantity
	// Parts are for parts-by-volume and parts-by-mass: first the solute or stock,
	// then the diluent.
	Parts [2]quantity.Decimal
}

// inParts tells whether the strength is a ratio of parts.
func (s Strength) inParts() bool { return s.Basis == PartsByVolume || s.Basis == PartsByMass }

// bound is what the number of a strength may be on a basis.
type bound struct {
	unit quantity.Unit // that the number is read in
	span span
}

// bounds of strengths. The upper ends are what a basis can mean at all: 100 %, and
// for grams in 100 mL of solution the density of the heaviest solid; grams to 100 mL
// of solvent have no such end, and 10 kg to 100 mL is far outside any use.
var bounds = map[Basis]bound{
	MassPerSolutionVolume: {quantity.GramsPerDL, span{0, 100 * mostSolid, true}},
	MassPerSolventVolume:  {quantity.GramsPerDL, span{0, 1e4, true}},
	MassFraction:          {quantity.Percent, span{0, 100, true}},
	VolumeFraction:        {quantity.Percent, span{0, 100, true}},
	AsSuppliedVolume:      {quantity.Percent, span{0, 100, true}},
	OneIn:                 {quantity.MLPerGram, span{1.0 / mostSolid, 1e7, false}},
}

// Unit is the unit that the number of a basis has where none was written: g/dL, %, or
// mL/g; 1 where a basis has none.
func (b Basis) Unit() quantity.Unit {
	if of, ok := bounds[b]; ok {
		return of.unit
	}
	return quantity.One
}

// partSpan is what one part of a ratio may be.
var partSpan = span{0, 1e6, true}

// read gives the strength as the target ratio of its basis: grams per millilitre,
// a fraction, or the share of the first part (see functional.go).
func (s Strength) read(pointer string, c *checker) quantity.Measured {
	switch {
	case s.Basis == "":
		c.faults.Add("strength-basis-missing", pointer+"/basis",
			"A strength needs its basis: the same number means different solutions on different bases.")
		return quantity.Exactly(0.01)
	case s.Basis == UnknownBasis:
		c.faults.Add("strength-basis-unknown", pointer+"/basis",
			"This computation needs one solution, and an unknown basis stands for several; compute the conversion to "+
				"see all the readings, and choose one.")
		return quantity.Exactly(0.01)
	case s.inParts():
		return s.readParts(pointer, c)
	}
	b, known := bounds[s.Basis]
	if !known {
		c.faults.Add("strength-basis-unknown-word", pointer+"/basis", "The basis is one of %s.", basisWords())
		return quantity.Exactly(0.01)
	}
	m := c.need(pointer, s.Number, b.unit, b.span)
	return s.Basis.ratio(m)
}

// ratio turns the number of a basis into the ratio of its two amounts.
func (b Basis) ratio(m quantity.Measured) quantity.Measured {
	if b == OneIn {
		return quantity.Measured{Value: 1 / m.Value, Standard: m.Standard / (m.Value * m.Value)}
	}
	return quantity.Measured{Value: m.Value / 100, Standard: m.Standard / 100}
}

// ratioUnit is the unit of the ratio of a basis.
func (b Basis) ratioUnit() quantity.Unit {
	switch b {
	case MassPerSolutionVolume, MassPerSolventVolume, OneIn:
		return quantity.GramsPerML
	}
	return quantity.One
}

// readParts gives a : b as the share a/(a+b).
func (s Strength) readParts(pointer string, c *checker) quantity.Measured {
	a, b := s.Parts[0].Float64(), s.Parts[1].Float64()
	for i, part := range []float64{a, b} {
		if !partSpan.holds(part) {
			c.faults.Add("out-of-range", pointer+"/parts"+indexed(i), "A part must be %s.", partSpan.said(quantity.One))
			return quantity.Exactly(0.5)
		}
	}
	return quantity.Exactly(a / (a + b))
}

// basisWords lists the bases that a computation can start from.
func basisWords() string {
	words := make([]string, 0, len(Bases))
	for _, b := range Bases {
		words = append(words, string(b))
	}
	return list(words)
}

// saidOf is how a label says a number on a basis.
var saidOf = map[Basis]string{
	MassPerSolutionVolume: "%s g per 100 mL solution",
	MassPerSolventVolume:  "%s g to each 100 mL solvent",
	MassFraction:          "%s % by mass",
	VolumeFraction:        "%s % by volume",
	OneIn:                 "1 in %s",
	AsSuppliedVolume:      "%s mL as supplied per 100 mL",
	PartsByVolume:         "1 part to %s by volume",
	PartsByMass:           "1 part to %s by mass",
	UnknownBasis:          "%s, basis not recorded",
}

// said says a strength as a label does; nothing where there is no number.
func (s Strength) said() string {
	switch {
	case s.inParts():
		return s.Parts[0].String() + " to " + s.Parts[1].String() + map[Basis]string{PartsByVolume: " parts by volume",
			PartsByMass: " parts by mass"}[s.Basis]
	case s.Number.IsZero():
		return "strength as measured out"
	case saidProof[s.Number.Unit] != "":
		return strings.Replace(saidProof[s.Number.Unit], "%s", s.Number.Value.String(), 1)
	default:
		return said(s.Basis, s.number().String())
	}
}

// number is the number of a strength in the unit of its basis.
func (s Strength) number() quantity.Decimal {
	if s.Number.Unit == s.Basis.Unit() || s.Number.Unit.Kind() != s.Basis.Unit().Kind() {
		return s.Number.Value
	}
	x, _ := s.Number.In(s.Basis.Unit()) // of one kind
	d, err := quantity.OfFloat(x)
	if err != nil {
		return s.Number.Value
	}
	return d
}

// said says a number on a basis as a label does.
func said(b Basis, number string) string { return strings.Replace(saidOf[b], "%s", number, 1) }

// saidProof explains the two proofs.
var saidProof = map[quantity.Unit]string{
	quantity.USProof:      "%s US proof, which is half of it in % by volume at 60 °F (15.56 °C)",
	quantity.BritishProof: "%s British proof, which is four sevenths of it in % by volume at 60 °F (recalled from memory)",
}
