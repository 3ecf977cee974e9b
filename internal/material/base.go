package material

import (
	"embed"
	"io/fs"
	"slices"
	"sync"
)

//go:embed data/*.tsv
var embedded embed.FS

// Base is everything that is known. It never changes once made; many goroutines
// may read it at once.
type Base struct {
	order     []string
	materials map[string]Material
	names     map[string][]Name
	namesOf   map[string][]Name
	classes   map[string][]string // member -> the classes that hold it directly

	facts map[factKey][]Fact
	known map[string][]Property

	densities []densityCurve
	pressures map[string][]pressureEquation

	solubility    map[string][]SolubilityRow
	strengths     map[string][]Strength
	reversibility map[string][]ReversibilityRow
	analysis      []AnalysisEffect

	containers []Container
	codes      []ResinCode
	ratings    map[ratingKey][]RatingRow

	limits        map[string][]ExposureLimit
	hazards       map[string][]Hazard
	statements    []Statement
	precautions   []Precaution
	smallPackages []SmallPackage
	classWarnings []ClassWarning
	classGroups   int // how many groups they have together

	specimenHazards []SpecimenHazard
	hazardWords     []HazardWord     // those of most words first
	hazardWordsBy   map[string][]int // by their first token
	telling         [256][]string    // what HazardPattern looks for, folded, by its first byte

	contractions map[pairKey][]Contraction
	miscibility  map[pairKey]Miscibility

	reaches map[string]map[string]int // of each built-in material as a solvent: solventReach

	kept *sync.Map // see Kept
}

type factKey struct {
	material string
	property Property
}

type ratingKey struct{ container, solvent string }

// Load reads and checks the tables that are built into the binary. The error
// names every faulty row by file and line.
func Load() (*Base, error) {
	data, err := fs.Sub(embedded, "data")
	if err != nil {
		return nil, err
	}
	return load(data)
}

// Builtin gives the built-in base, read once. It panics when the tables do not
// load; a test of this package checks that they do.
var Builtin = sync.OnceValue(func() *Base {
	b, err := Load()
	if err != nil {
		panic("the built-in tables do not load: " + err.Error())
	}
	return b
})

// Kept is what work makes of a base, the same at each call: it is worked out once for a key, and kept as
// long as the base is. A key is of the reader's own type, and there are only as many as there are materials.
func Kept[T any](b *Base, key any, work func() T) T {
	v, known := b.kept.Load(key)
	if !known {
		v, _ = b.kept.LoadOrStore(key, work())
	}
	return v.(T)
}

// load reads the tables in the order in which they refer to each other.
func load(files fs.FS) (*Base, error) {
	r := &reader{files: files}
	b := &Base{
		materials: map[string]Material{},
		names:     map[string][]Name{}, namesOf: map[string][]Name{}, classes: map[string][]string{},
		facts: map[factKey][]Fact{}, known: map[string][]Property{},
		pressures:  map[string][]pressureEquation{},
		solubility: map[string][]SolubilityRow{}, strengths: map[string][]Strength{},
		reversibility: map[string][]ReversibilityRow{},
		ratings:       map[ratingKey][]RatingRow{}, limits: map[string][]ExposureLimit{}, hazards: map[string][]Hazard{},
		hazardWordsBy: map[string][]int{}, contractions: map[pairKey][]Contraction{},
		miscibility: map[pairKey]Miscibility{}, kept: &sync.Map{},
	}
	for _, read := range []func(*Base, *reader){
		readMaterials, readGrades, readCompositions, readNames, readClasses,
		readFacts, readDensityCurves, readPressures,
		readSolubility, readStrengths, readReversibility, readAnalysis,
		readContainers, readCodes, readRatings,
		readLimits, readStatements, readHazards, readPrecautions, readSmallPackages, readClassWarnings, readSpecimenHazards,
		readContractions, readMiscibility,
	} {
		read(b, r)
	}
	if err := r.err(); err != nil {
		return nil, err
	}
	for id, m := range b.materials {
		m.Grades, m.Components = slices.Clip(m.Grades), slices.Clip(m.Components)
		b.materials[id] = m
	}
	reaches := make(map[string]map[string]int, len(b.order))
	for _, id := range b.order {
		reaches[id] = b.solventReach(id)
	}
	b.reaches = reaches
	return b, nil
}
