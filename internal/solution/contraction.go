package solution

import "slices"

// alcoholGroup gathers the liquids of ethanol and water in a mixture, whose volumes
// do not add.
type alcoholGroup struct {
	mass    float64 // g
	ethanol float64 // g
	given   float64 // mL, the sum of the volumes by the densities given
	table   float64 // mL, the sum of the volumes by OIML R 22
	members int
}

// add brings in one liquid: m grams of ethanol mass fraction p that fill v mL.
func (a *alcoholGroup) add(m, v, p, celsius float64) {
	a.mass += m
	a.ethanol += m * p
	a.given += v
	a.table += 1000 * m / ethanolWaterDensity(p, celsius)
	a.members++
}

// contraction is what the mixture fills beyond the sum of its parts, mL (negative):
//
//	ΔV = V₀ (V₂₂/Σ₂₂ − 1)
//
//	V₀   the sum of the parts by the densities given, mL
//	V₂₂  the mixture by OIML R 22, mL;  Σ₂₂ the sum of the parts by OIML R 22, mL
//
// The ratio keeps a density that was measured or read on a label where it differs
// from the table.
func (a *alcoholGroup) contraction(celsius float64) float64 {
	if a.members < 2 {
		return 0
	}
	mixed := 1000 * a.mass / ethanolWaterDensity(a.ethanol/a.mass, celsius)
	return a.given * (mixed/a.table - 1)
}

// VolumeModel is how volumes were computed, and how far off that may be.
type VolumeModel struct {
	Name     string // stable, in kebab-case
	Sentence string
	// LargestError is the largest known error of the volume, in per cent of it; 0
	// where none is known. It has a sign when it is one-sided: negative means that
	// the mixture fills less than computed.
	LargestError float64
	Source       Source
}

// polymerVolume is the upper estimate, in mL for each gram, by which a dissolved acrylic resin may fill less than
// the dry one: 0.3 % of the volume for each 5 g in 100 mL, if its partial volume is 0.80 rather than 0.87 cm³/g. Of
// other polymers no such figure is held, and as much is allowed either way (common practice): poly(ethylene glycol)
// in water was measured 0.05 mL a gram from the sum. In the uncertainty it is a half-width, rectangular.
const polymerVolume = 0.3 / 5

var (
	resinVolumeSource = Cited("resin-volumes", Memory)
	alcoholSource     = Cited("oiml-r22", Verified)
	additiveSource    = Cited("volumes-added", CommonPractice)
)

// models says which volume models a mixture needed.
func (s *system) models(x []float64, g grams) []VolumeModel {
	if len(s.unknownDensities(g, everything)) > 0 {
		return nil
	}
	var models []VolumeModel
	if !s.onlySpirit(g) {
		models = append(models, s.additive(x, g))
	}
	if s.contractsIn(g) {
		models = append(models,
			VolumeModel{"oiml-r22",
				"Ethanol and water are taken together by the alcoholometric formula, with their contraction.", 0.03, alcoholSource})
	}
	for _, pair := range s.contractionsIn(g) {
		models = append(models, VolumeModel{
			knownContraction,
			capital(pair.a) + " and " + pair.b + " do not add up: the volume departs by " + number(pair.Percent) +
				" % " + pair.Where + ". Make it up to a mark or by weight, which need no model.",
			pair.Percent, pair.Source,
		})
	}
	return models
}

// knownContraction names the model of two liquids that are known not to add up.
const knownContraction = "additive-with-known-contraction"

// contracting is a contraction with the names of its two liquids.
type contracting struct {
	a, b string
	Contraction
}

// contractionsIn lists the known contractions of pairs of liquids in a mixture,
// except ethanol and water, which have a model.
func (s *system) contractionsIn(g grams) []contracting {
	var all []contracting
	for i, m := range g {
		a := s.components[i]
		for j := range g[:i] {
			b := s.components[j]
			if m == 0 || g[j] == 0 || (a.Ethanol != nil && b.Ethanol != nil) {
				continue
			}
			for _, c := range known(a, b) {
				all = append(all, contracting{a.Name, b.Name, c})
			}
		}
	}
	return all
}

// known gives the contractions of a pair, from the component that carries them.
func known(a, b Component) []Contraction {
	var all []Contraction
	for _, c := range a.Contractions {
		if c.With == b.ID {
			all = append(all, c)
		}
	}
	for _, c := range b.Contractions {
		if c.With == a.ID && !slices.Contains(all, Contraction{b.ID, c.Percent, c.Where, c.Source}) {
			all = append(all, c)
		}
	}
	return all
}

// additive is the model of everything else.
func (s *system) additive(x []float64, g grams) VolumeModel {
	m := VolumeModel{"additive", "The volumes of the parts are added; no error of that is known for this mixture.", 0,
		additiveSource}
	const toTheMark = " Made up to a mark, the strength in the volume does not depend on this."
	var polymers float64
	var others []string
	for i, grams := range g {
		if grams == 0 || s.swells[i] < 0 {
			continue
		}
		polymers += grams
		if c := s.components[i]; c.Polymer != Acrylic {
			others = append(others, c.Name)
		}
	}
	largest := 100 * polymerVolume * polymers / s.volume(x, g)
	switch {
	case len(others) > 0:
		m.LargestError = largest
		m.Sentence = "The volumes of the parts are added, which was not tried on dissolved " + list(others) + ": it may fill " +
			"more or less than by itself. The volume may be up to " + rough(largest) + " % from the one computed." + toTheMark
	case polymers > 0:
		m.LargestError, m.Source = -largest, resinVolumeSource
		m.Sentence = "The volumes of the parts are added. A dissolved acrylic resin may fill less than the dry one: the " +
			"volume may be up to " + rough(largest) + " % smaller than computed." + toTheMark
	case s.solids(g) > 0:
		m.Sentence = "The volumes of the parts are added; what is dissolved may fill more or less than by itself, by how much " +
			"is not known here." + toTheMark
	}
	return m
}

// onlySpirit tells whether a mixture holds nothing but ethanol and water that contract.
func (s *system) onlySpirit(g grams) bool {
	for i, m := range g {
		if m > 0 && s.components[i].Ethanol == nil {
			return false
		}
	}
	return s.contractsIn(g)
}

// contractsIn tells whether a mixture holds ethanol and water of different strengths.
func (s *system) contractsIn(g grams) bool {
	var in system
	for i, m := range g {
		if m > 0 {
			in.components = append(in.components, s.components[i])
		}
	}
	return in.contracts()
}
