package solution

import (
	"slices"

	"meniscus/internal/fault"
	"meniscus/internal/quantity"
)

// Phase tells what is dissolved from what it is dissolved in.
type Phase string

const (
	Solid  Phase = "solid"  // resins, fillers, pigments, the solids of a dispersion
	Liquid Phase = "liquid" // solvents, water, liquid solutes such as formalin
)

// Polymer tells polymers apart by what is known of their volume in solution.
type Polymer string

const (
	Acrylic      Polymer = "acrylic"
	OtherPolymer Polymer = "other"
)

// Density is a density in g/mL at 20 °C. The zero value is "not known".
type Density struct {
	quantity.Measured
	Source Source
	// Ratio gives ρ(t)/ρ(20 °C) at t in °C; nil, or false, is "not known".
	Ratio       func(celsius float64) (ratio float64, known bool)
	RatioSource Source
}

// Known tells whether a density was given.
func (d Density) Known() bool { return d.Value > 0 }

// Component is what the arithmetic needs to know of one substance. The caller
// looks these values up.
type Component struct {
	ID   string
	Name string // as a sentence says it: "acetone"
	// Phase says whether it counts as solids.
	Phase Phase
	// Density is the density of the substance itself: of a resin the true density
	// of the solid, never the bulk density of pellets or powder.
	Density Density
	// Resin tells that it is a resin, which comes in pellets or lumps.
	Resin bool
	// Polymer says which polymer it is, for the volume that it fills dissolved; empty for what is none.
	Polymer Polymer
	// Sets says how a component reacts or sets (a two-part resin, plaster); such a
	// component is never diluted. It is empty for one that dissolves.
	Sets string
	// Ethanol is the mass fraction of ethanol in a liquid of ethanol and water: 1
	// for ethanol, 0 for water, 0.939 for 96 % by volume; nil for everything else.
	Ethanol *float64
	// Freezes is the temperature in °C at which a liquid freezes; nil is "not known".
	Freezes       *float64
	FreezesSource Source
	// Evaporation is the rate of evaporation relative to n-butyl acetate = 1; 0 is
	// "not known".
	Evaporation       float64
	EvaporationSource Source
	// NotWith names the components (by ID) that it does not mix with, and PartlyWith
	// those that it forms two layers with over a range.
	NotWith, PartlyWith []string
	// Contractions are what is known of its volume in mixtures.
	Contractions []Contraction
	// Cautions are what its label warns of.
	Cautions []Caution
	// Fireproof says of a liquid that it is known not to burn, and Harmless that it is not
	// classified as hazardous and no solvent to guard against, as water.
	Fireproof, Harmless bool
	// Supplied is the composition of a product that is sold ready mixed, such as a
	// dispersion; empty for a pure substance.
	Supplied []MassShare
}

// Contraction is how far the volume of a mixture of two liquids departs from the sum.
type Contraction struct {
	With    string  // the other component's ID
	Percent float64 // of the sum; negative: it shrinks
	Where   string  // "at 50 % by mass"
	Source  Source
}

// MassShare is one part of a mixture by mass.
type MassShare struct {
	Component Component
	Fraction  quantity.Measured // grams in one gram
}

// Solvent is what a solution is made with: one liquid, or a blend by volume or by
// mass as it stands in its bottle.
type Solvent struct {
	By     ShareBy
	Shares []SolventShare
}

// ShareBy says what the fractions of a blend were measured in.
type ShareBy string

const (
	ByVolume ShareBy = "volume"
	ByMass   ShareBy = "mass"
)

// SolventShare is one liquid of a blend.
type SolventShare struct {
	Component Component
	Fraction  float64 // 0 to 1
	// AfterDissolving: this liquid goes in when the resin has dissolved in the others.
	AfterDissolving bool
}

// Pure makes a solvent of one liquid.
func Pure(c Component) Solvent {
	return Solvent{By: ByVolume, Shares: []SolventShare{{Component: c, Fraction: 1}}}
}

// Bounds of densities, g/mL. Under leastSolid a "solid" is pellets or powder with
// the air between them: poly(vinyl butyral) powder is printed as 0.22 to 0.25 beside
// its true 1.083, loose acrylic beads are about 0.65, and the lightest solid in use
// here, cyclododecane, is 0.82.
const (
	leastSolid  = 0.7
	mostSolid   = 25
	leastLiquid = 0.5
	mostLiquid  = 4
)

// check finds what is wrong with a component; pointer is where it stands.
func (c Component) check(pointer string, faults *fault.List) {
	if c.ID == "" || c.Name == "" {
		faults.Add("material-missing", pointer, "A material is needed here: its identifier, or its name and properties.")
	}
	d := c.Density
	if d.Measured == (quantity.Measured{}) {
		return
	}
	least, most := leastLiquid, float64(mostLiquid)
	if c.Phase == Solid {
		least, most = leastSolid, mostSolid
	}
	if !d.Finite() || d.Value < least || d.Value > most {
		hint := ""
		if c.Phase == Solid && d.Value > 0 && d.Value < leastSolid {
			hint = " This looks like the bulk density of pellets or powder, which counts the air between them; the " +
				"density of the solid itself is needed."
		}
		faults.Add("density-out-of-range", pointer+"/density", "The density of a %s is between %s and %s g per mL.%s",
			c.Phase, number(least), number(most), hint)
	}
}

// check finds what is wrong with a solvent; pointer is where it stands.
func (s Solvent) check(pointer string, faults *fault.List) {
	if len(s.Shares) == 0 {
		faults.Add("solvent-missing", pointer,
			"A solvent is needed here: one liquid, or a blend with fractions that sum to one.")
		return
	}
	var sum float64
	for i, share := range s.Shares {
		at := pointer + s.at(i)
		share.Component.check(at, faults)
		if !(share.Fraction > 0) || share.Fraction > 1 {
			faults.Add("fraction-out-of-range", at+"/fraction", "A fraction is more than 0 and at most 1.")
		}
		if share.Component.Phase != Liquid {
			faults.Add("solvent-not-liquid", at, "A solvent is a liquid; %s is not one.", share.Component.Name)
		}
		if share.Component.Sets != "" {
			faults.Add("reacts", at, "%s %s; it is not a solvent.", capital(share.Component.Name), share.Component.Sets)
		}
		sum += share.Fraction
	}
	if !(sum > 1-1e-6 && sum < 1+1e-6) {
		faults.Add("fractions-sum", pointer+"/blend", "The fractions of a blend sum to 1; these sum to %s.", number(sum))
	}
	s.checkMixes(pointer, faults)
}

// at is the pointer to liquid i in the input.
func (s Solvent) at(i int) string {
	if len(s.Shares) == 1 {
		return "/liquid"
	}
	return "/blend/shares" + indexed(i)
}

// checkMixes refuses liquids that are known not to mix with each other.
func (s Solvent) checkMixes(pointer string, faults *fault.List) {
	for i, a := range s.Shares {
		for _, b := range s.Shares[:i] {
			if !mixes(a.Component, b.Component) {
				faults.Add("solvents-do-not-mix", pointer+s.at(i),
					"%s and %s do not mix: they would stand as two layers, with the resin in one of them.",
					capital(b.Component.Name), a.Component.Name)
			}
		}
	}
}

// mixes tells whether two liquids mix as far as is known.
func mixes(a, b Component) bool {
	return !slices.Contains(a.NotWith, b.ID) && !slices.Contains(b.NotWith, a.ID)
}

// mixesPartly tells whether two liquids are known to form two layers over a range.
func mixesPartly(a, b Component) bool {
	return slices.Contains(a.PartlyWith, b.ID) || slices.Contains(b.PartlyWith, a.ID)
}
