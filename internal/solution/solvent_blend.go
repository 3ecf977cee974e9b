package solution

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"meniscus/internal/fault"
	"meniscus/internal/quantity"
)

// SolventBlend asks for the properties of a mixture of solvents.
type SolventBlend struct {
	Shares []BlendShare
	ByMass bool // the fractions are by mass; otherwise by volume at 20 °C
	// Pairs is the known miscibility of the solvents, pair by pair.
	Pairs []SolventPair
	Resin *ResinEvidence
	// Amount of the blend, a volume (before mixing) or a mass; left out is not asked.
	Amount quantity.Quantity
	Instruments
}

// BlendShare is one solvent of a blend.
type BlendShare struct {
	Solvent  BlendSolvent
	Fraction quantity.Quantity
}

// BlendSolvent is what a blend needs to know of a solvent. What is nil or 0 is not known.
type BlendSolvent struct {
	Name    string
	Density Density
	Teas    *Teas
	Hansen  *Hansen
	// Rates of evaporation, n-butyl acetate = 1: first the one that is used, then those of other
	// sources.
	Rates []EvaporationRate
	Boils *float64 // °C
	Flash *float64 // °C
	// Ethanol is the mass fraction of ethanol in a liquid of ethanol and water; nil for others.
	Ethanol *float64
	Hazards []HazardLine
	Symbols []string // pictograms, GHS02 …
	Signal  string   // "Danger", "Warning" or ""
	// Cautions are what is to be known beside its label, or that its hazards are not known.
	Cautions []Caution
}

// EvaporationRate is one figure of one source.
type EvaporationRate struct {
	Value  float64
	Source Source
}

// Mixing is the miscibility of two solvents near room temperature.
type Mixing string

const (
	Mixes        Mixing = "miscible"
	MixesPartly  Mixing = "partly"
	DoesNotMix   Mixing = "immiscible"
	MixesUnknown Mixing = "unknown"
)

// SolventPair is what is known of two solvents together.
type SolventPair struct {
	A, B   string // names
	Mixing Mixing
	Remark string
	Source Source
	// Shrinks says how far the volume departs from the sum, as printed; empty if not known.
	Shrinks       string
	ShrinksSource Source
}

// SolventBlendAnswer is the properties of the mixture.
type SolventBlendAnswer struct {
	Parts   []BlendPart
	Density *quantity.Outcome // g/mL at 20 °C; nil where a density is not known
	Model   string            // how the density was computed and how far that may be off
	Teas    *Teas
	Hansen  *Hansen
	// Evaporation lists the solvents in the order in which they leave, the fastest
	// first; those without a figure last.
	Evaporation []Leaving
	Hazards     []HazardLine
	Symbols     []string
	Signal      string
	Resin       *ResinAnswer
	Advice
	said func(part int) string // the amount of a part as its instrument shows it; nil without an amount
}

// BlendPart is one solvent with its fraction both ways.
type BlendPart struct {
	Name string
	// ByVolume and ByMass are nil where a density is missing for the conversion.
	ByVolume, ByMass *float64
	Teas             *Teas
	Pour             *PartMeasure // nil where no amount was asked
}

// Leaving is one solvent in the order of evaporation.
type Leaving struct {
	Name string
	Rate *EvaporationRate // nil: no figure is held
	// Others are figures of other sources, where they disagree.
	Others []EvaporationRate
}

var (
	ratesNote   = Cited("evaporation-rates", CommonPractice)
	notMixture  = Cited("clp-2026", Verified)
	miscibility = Cited("miscibility-recalled", Memory)
)

// slack is how far the fractions may be from one before they are refused: three
// thirds written as 0.333 sum to 0.999.
const slack = 0.0011

// ComputeSolventBlend answers the question, or gives every fault in it.
func ComputeSolventBlend(b SolventBlend) (SolventBlendAnswer, error) {
	var a SolventBlendAnswer
	m, err := b.read(&a.Advice)
	if err != nil {
		return SolventBlendAnswer{}, err
	}
	if err := b.separates(); err != nil {
		return SolventBlendAnswer{}, err
	}
	a.Parts = m.parts()
	if err := a.pours(b, m); err != nil {
		return SolventBlendAnswer{}, err
	}
	a.density(m)
	a.Teas, a.Hansen = m.teas(), m.hansen()
	a.Evaporation = m.evaporation()
	a.hazards(m)
	if b.Resin != nil {
		r := b.Resin.against(m, a.Hansen)
		a.Resin = &r
	}
	a.advise(b, m)
	a.Answer = a.says()
	if a.Teas != nil {
		a.cite(a.Teas.Source)
	}
	if a.Hansen != nil {
		a.cite(a.Hansen.Source)
	}
	return a, nil
}

// blend is a checked SolventBlend: fractions that sum to one.
type blend struct {
	solvents []BlendSolvent
	inputs   []quantity.Input
	byMass   bool
}

// read checks the fractions and makes them sum to one.
func (b SolventBlend) read(notes *Advice) (blend, error) {
	var c checker
	m := blend{byMass: b.ByMass}
	if n := len(b.Shares); n < 1 || n > 40 {
		c.faults.Add("solvents-count", "/solvents", "Give from 1 to 40 solvents.")
	}
	sum := 0.0
	seen := map[string]bool{}
	for i, s := range b.Shares {
		at := fmt.Sprintf("/solvents/%d", i)
		f := c.need(at+"/fraction", s.Fraction, quantity.One, span{0, 1, true})
		if seen[s.Solvent.Name] {
			c.faults.Add("solvent-twice", at, "%s stands twice; give its fraction once.", capital(s.Solvent.Name))
		}
		seen[s.Solvent.Name] = true
		sum += f.Value
		m.solvents = append(m.solvents, s.Solvent)
		m.inputs = append(m.inputs, quantity.Input{Name: "the fraction of " + s.Solvent.Name, Unit: quantity.One,
			Measured: f})
	}
	if len(c.faults) == 0 && math.Abs(sum-1) > slack {
		c.faults.Add("fractions-sum", "/solvents", "The fractions of a blend sum to 1 (100 %%); these sum to %s.",
			number(sum))
	}
	if err := c.faults.Err(); err != nil {
		return blend{}, err
	}
	if math.Abs(sum-1) > 1e-9 {
		notes.warn("fractions-rounded", Info, practice, fmt.Sprintf("The fractions sum to %s and were scaled to 1.",
			number(sum)))
	}
	for i := range m.inputs {
		m.inputs[i].Value /= sum
		m.inputs[i].Standard /= sum
	}
	for _, s := range m.solvents {
		m.inputs = append(m.inputs, quantity.Input{Name: "the density of " + s.Name, Unit: quantity.GramsPerML,
			Measured: s.Density.Measured})
	}
	return m, nil
}

// separates refuses solvents that form layers: those that fall into groups no two
// of which mix. If other solvents can make them mix, the amount needed is unknown,
// and a warning says so.
func (b SolventBlend) separates() error {
	group := map[string]int{}
	for i, s := range b.Shares {
		group[s.Solvent.Name] = i
	}
	for i, x := range b.Shares {
		for _, y := range b.Shares[:i] {
			if b.pair(x.Solvent.Name, y.Solvent.Name).Mixing != DoesNotMix {
				from, to := group[x.Solvent.Name], group[y.Solvent.Name]
				for name, g := range group {
					if g == from {
						group[name] = to
					}
				}
			}
		}
	}
	first := b.Shares[0].Solvent.Name
	for _, s := range b.Shares[1:] {
		if group[s.Solvent.Name] != group[first] {
			return fault.New("solvents-do-not-mix", "/solvents",
				"%s and %s do not mix: they stand as two layers. Take one of them out, or change it for one "+
					"that mixes.", capital(first), s.Solvent.Name)
		}
	}
	return nil
}

// pair finds what is known of two solvents; the zero value mixes as far as is known.
func (b SolventBlend) pair(x, y string) SolventPair {
	for _, p := range b.Pairs {
		if p.A == x && p.B == y || p.A == y && p.B == x {
			return p
		}
	}
	return SolventPair{A: x, B: y, Mixing: MixesUnknown}
}

// fractions gives both sets of fractions from the inputs, φᵢ by volume and wᵢ by mass:
//
//	wᵢ = φᵢ ρᵢ/Σ φⱼ ρⱼ    φᵢ = (wᵢ/ρᵢ)/Σ (wⱼ/ρⱼ)
//
// with volumes before mixing. A density of 0 is not known, and one set is then nil.
func (m blend) fractions(x []float64) (byVolume, byMass []float64) {
	n := len(m.solvents)
	given := x[:n]
	turned := make([]float64, n)
	sum := 0.0
	for i := range n {
		rho := x[n+i]
		if rho <= 0 {
			if m.byMass {
				return nil, given
			}
			return given, nil
		}
		turned[i] = given[i] * rho
		if m.byMass {
			turned[i] = given[i] / rho
		}
		sum += turned[i]
	}
	for i := range turned {
		turned[i] /= sum
	}
	if m.byMass {
		return turned, given
	}
	return given, turned
}

func (m blend) values() []float64 { return values(m.inputs) }

func (m blend) parts() []BlendPart {
	byVolume, byMass := m.fractions(m.values())
	list := make([]BlendPart, len(m.solvents))
	for i, s := range m.solvents {
		list[i].Name, list[i].Teas = s.Name, s.Teas
		if byVolume != nil {
			list[i].ByVolume = &byVolume[i]
		}
		if byMass != nil {
			list[i].ByMass = &byMass[i]
		}
	}
	return list
}

// density is ρ = 1/Σ(wᵢ/ρᵢ) with additive volumes, but for ethanol and water, which are taken together
// by OIML R 22 (contraction.go).
func (a *SolventBlendAnswer) density(m blend) {
	if byVolume, byMass := m.fractions(m.values()); byVolume == nil || byMass == nil {
		a.Model = "A density is not known for every solvent, so none is given for the blend, and fractions are given " +
			"one way only."
		return
	}
	spirits := 0
	for _, s := range m.solvents {
		if s.Ethanol != nil {
			spirits++
		}
	}
	alone := spirits > 1 && spirits == len(m.solvents)
	rho := quantity.Propagate(m.inputs, func(x []float64) float64 {
		_, byMass := m.fractions(x)
		if alone {
			return m.spirit(byMass)
		}
		v := 0.0
		var alcohol alcoholGroup
		for i, s := range m.solvents {
			part := byMass[i] / x[len(m.solvents)+i]
			v += part
			if s.Ethanol != nil {
				alcohol.add(byMass[i], part, *s.Ethanol, referenceCelsius)
			}
		}
		return 1 / (v + alcohol.contraction(referenceCelsius))
	})
	a.Density = &rho
	switch {
	case alone:
		a.Model = "Ethanol and water by OIML R 22, with their contraction."
	case spirits > 1:
		a.Model = "Ethanol and water by OIML R 22, with their contraction; the other volumes are taken to add."
	default:
		a.Model = "Volumes are taken to add; what is known to depart from that is among the warnings."
	}
	if spirits > 1 {
		a.cite(alcoholSource)
	}
	if !alone {
		a.cite(additiveSource)
	}
}

// spirit is the density of ethanol and water in g/mL at 20 °C.
func (m blend) spirit(byMass []float64) float64 {
	p := 0.0
	for i, s := range m.solvents {
		p += byMass[i] * *s.Ethanol
	}
	return ethanolWaterDensity(math.Min(1, math.Max(0, p)), 20) / 1000
}

// evaporation orders the solvents by their rate, fastest first.
func (m blend) evaporation() []Leaving {
	list := make([]Leaving, len(m.solvents))
	for i, s := range m.solvents {
		list[i].Name = s.Name
		if len(s.Rates) > 0 {
			list[i].Rate, list[i].Others = &s.Rates[0], s.Rates[1:]
		}
	}
	slices.SortStableFunc(list, func(a, b Leaving) int {
		switch {
		case a.Rate == nil && b.Rate == nil:
			return 0
		case a.Rate == nil:
			return 1
		case b.Rate == nil:
			return -1
		}
		return -compareFloats(a.Rate.Value, b.Rate.Value)
	})
	return list
}

func compareFloats(a, b float64) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}

// hazards are those of the solvents together, each once. A mixture may be
// classified otherwise: these are the hazards of its components, not its label.
func (a *SolventBlendAnswer) hazards(m blend) {
	for _, s := range m.solvents {
		for _, h := range s.Hazards {
			if !slices.ContainsFunc(a.Hazards, func(have HazardLine) bool { return have.Code == h.Code }) {
				a.Hazards = append(a.Hazards, h)
			}
		}
		for _, symbol := range s.Symbols {
			if !slices.Contains(a.Symbols, symbol) {
				a.Symbols = append(a.Symbols, symbol)
			}
		}
		if s.Signal == "Danger" || a.Signal == "" {
			a.Signal = s.Signal
		}
	}
	supplemental := func(h HazardLine) int { // these follow the statements of the classes
		return strings.Count(h.Code, "EUH")
	}
	slices.SortStableFunc(a.Hazards, func(x, y HazardLine) int {
		return cmp.Or(cmp.Compare(supplemental(x), supplemental(y)), strings.Compare(x.Code, y.Code))
	})
	slices.Sort(a.Symbols)
}
