package solution

import "strings"

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
	// LargestError is the largest error in the volume that is known of, in per cent
	// of it; 0 where none is known. With a sign when it is one-sided: negative means
	// that the mixture fills less than computed.
	LargestError float64
	Source       Source
}

// contractions holds the published sizes of the contraction of two liquids that the
// additive model does not see.
var contractions = []struct {
	a, b    string // component IDs
	percent float64
	where   string
	source  Source
}{
	{"acetone", "water", -4, "about -1.25 % at 10 % of acetone by mass and about -4 % near equal volumes", Source{"CRC Handbook, Concentrative Properties of Aqueous Solutions, for the first figure; the second is recalled", Memory}},
	{"methanol", "water", -3.56, "-3.56 % at 50 % by mass", Source{"CRC Handbook, Concentrative Properties of Aqueous Solutions", Computed}},
	{"propan-2-ol", "water", -3.22, "-3.22 % at 40 % by mass", Source{"CRC Handbook, Concentrative Properties of Aqueous Solutions", Computed}},
	{"glycerol", "water", -1.05, "-1.05 % at 60 % by mass", Source{"CRC Handbook, Concentrative Properties of Aqueous Solutions", Computed}},
	{"acetone", "ethanol", 0.15, "under 0.15 %", Source{"Qin et al. 1993 (abstract read, which gives no numbers); the size is recalled", Memory}},
}

// resinContraction is the upper estimate, in per cent of the volume for each g per
// 100 mL of resin, by which the additive volume may be too large: 0.3 % for each 5 g
// if the resin's partial volume is 0.80 rather than 0.87 cm³/g.
const resinContraction = -0.3 / 5

var (
	resinVolumeSource = Source{"partial specific volumes of acrylic resins in acetone and toluene, an upper estimate", Memory}
	alcoholSource     = Source{"OIML R 22, International Alcoholometric Tables, edition 1975", Verified}
	additiveSource    = Source{"ideal mixing: the volumes of the parts are added", CommonPractice}
)

// models says which volume models a mixture needed.
func (s *system) models(x []float64, g grams) []VolumeModel {
	if len(s.unknownDensities(g, everything)) > 0 {
		return nil
	}
	models := []VolumeModel{s.additive(x, g)}
	if s.contractsIn(g) {
		models = append(models, VolumeModel{"oiml-r22", "Ethanol and water are taken together by the alcoholometric formula, with their contraction.", 0.03, alcoholSource})
	}
	for _, pair := range contractions {
		if s.holds(g, pair.a) && s.holds(g, pair.b) {
			models = append(models, VolumeModel{
				"additive-with-known-contraction",
				capital(pair.a) + " and " + pair.b + " do not add up: the volume is off by " + pair.where + ". Make it up to a mark or by weight, which need no model.",
				pair.percent, pair.source,
			})
		}
	}
	return models
}

// additive is the model of everything else.
func (s *system) additive(x []float64, g grams) VolumeModel {
	m := VolumeModel{"additive", "The volumes of the parts are added; no error of that is known for this mixture.", 0, additiveSource}
	solids := s.solids(g)
	if solids == 0 || s.soluteVolume(x, g) == 0 {
		return m
	}
	m.LargestError = resinContraction * 100 * solids / s.volume(x, g)
	m.Sentence = "The volumes of the parts are added. A dissolved resin may fill less than the dry one: the volume may be up to " +
		number(-m.LargestError) + " % smaller than computed. Made up to a mark, the strength in the volume does not depend on this."
	m.Source = resinVolumeSource
	return m
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

// holds tells whether a substance is in a mixture.
func (s *system) holds(g grams, id string) bool {
	for _, part := range s.parts(g) {
		if strings.EqualFold(part.ID, id) {
			return true
		}
	}
	return false
}
