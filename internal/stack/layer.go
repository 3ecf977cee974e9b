package stack

import (
	"cmp"
	"slices"

	"meniscus/internal/edtf"
	"meniscus/internal/material"
)

// LayerState is what is known to be left of a layer. Nothing is ever called
// absent.
type LayerState string

const (
	Present            LayerState = "present"
	Damaged            LayerState = "damaged"
	Reduced            LayerState = "reduced"
	NotDetected        LayerState = "not-detected"
	ShouldHaveSublimed LayerState = "should-have-sublimed"
	StateUnknown       LayerState = "unknown"
)

// mayBeThere tells whether the layer has to be treated as present.
func (s LayerState) mayBeThere() bool { return s != NotDetected && s != ShouldHaveSublimed }

// LocalState is what became of a layer in one of its areas, and by which record.
type LocalState struct {
	Area          Area
	State         LayerState
	Method, Limit string
	By            string
	// Damage is what happened, where it is damaged.
	Damage string

	area int
}

// Layer is a treatment's material in its areas.
type Layer struct {
	Treatment string
	// Index is which of the treatment's uses it is, from 0.
	Index    int
	Action   Action
	Role     Role
	Identity Identity
	Solvents []Share
	// SolventsKnown is false where the record does not say what it was
	// brought with.
	SolventsKnown bool
	Strength      *Strength
	Drying        Drying
	When          edtf.Period
	Date          edtf.Date
	// Areas are those that the treatment names, and what else it certainly
	// reached, such as the rest of the piece that was immersed.
	Areas           []Area
	AreasUnknown    bool
	CarriesLoad     Answer
	NumberRecorded  Answer
	Batch           string
	ReferenceSample string
	// State is what is left in all of its areas; Local is what the last event left
	// in an area where that differs, in the order of the events.
	State LayerState
	Local []LocalState

	base LayerState  // before any removal
	told map[int]int // by area, which of Local is of it
	key  string      // of the identity
	foot footprint
}

// joint tells whether the layer holds parts together.
func (l *Layer) joint() bool { return l.Role == Adhesive }

// layersOf makes the layers of a treatment, one for each thing that it put on.
// A treatment with unknown contents leaves one unknown layer.
func layersOf(t *Treatment, k knowing) []Layer {
	if !t.leavesMaterial() || t.NothingPut {
		return nil
	}
	uses := t.Uses
	if len(uses) == 0 {
		uses = []Use{{Certainty: Unidentified}}
	}
	var layers []Layer
	areas := cleaned(t.Areas)
	for i := range uses {
		u := &uses[i]
		if len(t.Uses) > 1 && len(u.Solids)+len(u.Candidates) == 0 && u.Verbatim == "" && len(u.Solvents) > 0 {
			continue // a rinse or pre-wetting leaves no layer
		}
		shares, known := k.broughtWith(u)
		layers = append(layers, Layer{
			Treatment: t.ID, Index: i, Action: t.Action, Role: t.roleFor(u), Identity: identify(u),
			Solvents: shares, SolventsKnown: known, Strength: u.Strength, Drying: t.Drying, When: t.When, Date: t.Date,
			Areas: areas, AreasUnknown: t.AreasUnknown || len(t.Areas) == 0,
			CarriesLoad: t.CarriesLoad, NumberRecorded: t.NumberRecorded,
			Batch: u.Batch, ReferenceSample: u.ReferenceSample, State: Present,
		})
		if t.Withheld {
			layers[len(layers)-1].Identity.Withheld, layers[len(layers)-1].State = true, StateUnknown
		}
		layers[len(layers)-1].key = layers[len(layers)-1].Identity.key()
	}
	return layers
}

func cleaned(areas []Area) []Area {
	out := make([]Area, 0, len(areas))
	for _, a := range areas {
		out = append(out, a.Clean())
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// broughtWith gives the liquids that a use came with, and whether they are
// known: a dispersion and a setting plaster bring water, a reacting resin none.
func (k knowing) broughtWith(u *Use) ([]Share, bool) {
	if len(u.Solvents) > 0 || u.NoSolvent {
		return k.parts(u.Solvents), !u.SolventsOpen
	}
	if !u.identitySettled() {
		return nil, false
	}
	switch k.kind(u.first().Material) {
	case material.Dispersion, material.SettingFill:
		return []Share{{Solvent: "water"}}, true
	case material.ReactingResin:
		return nil, true
	}
	return nil, false
}

func (u *Use) identitySettled() bool { return identify(u).Settled() }

func (u *Use) first() Ref { return identify(u).all()[0] }

// Contradiction is a fault in the records that cannot be computed away: it is
// named, and the answer leaves the contradicting part out.
type Contradiction struct {
	// Code is over-each-other, dates-against-relation, removal-elsewhere,
	// removal-before-layer, test-before-layer, names-unknown-treatment or names-another-specimen.
	Code       string
	Treatments []string
	Sentence   string
}

func sortContradictions(list []Contradiction) []Contradiction {
	slices.SortFunc(list, func(a, b Contradiction) int {
		return cmp.Or(cmp.Compare(a.Code, b.Code), slices.Compare(a.Treatments, b.Treatments),
			cmp.Compare(a.Sentence, b.Sentence))
	})
	return slices.CompactFunc(list, func(a, b Contradiction) bool {
		return a.Code == b.Code && a.Sentence == b.Sentence && slices.Equal(a.Treatments, b.Treatments)
	})
}
