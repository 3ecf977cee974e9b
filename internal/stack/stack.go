package stack

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strconv"

	"meniscus/internal/edtf"
	"meniscus/internal/fault"
	"meniscus/internal/material"
)

// Config is what a Stack is made from.
type Config struct {
	Specimen   Specimen
	Treatments []Treatment
	Knowledge  Knowledge
	// At is the day that is asked about. Treatments that are certainly later are
	// left out. The zero day leaves nothing out and makes every age unknown.
	At       edtf.Day
	Settings Settings
	// Context ends the work early; nil never does. The views return no error:
	// check Stack.Err after each.
	Context context.Context
}

// Stack is one specimen's layers on one day. It is immutable.
type Stack struct {
	specimen   Specimen
	knowledge  knowing
	settings   Settings
	at         edtf.Day
	atlas      *atlas
	treatments []*Treatment // in force on the day, by date and id
	byID       map[string]*Treatment
	leftOut    map[string]bool // retracted, or later than the day
	layers     []Layer
	layersOf   map[string][]int // by treatment
	// siblings are, by layer, the layers of its treatment. They cover the same ground, have
	// the same dates and lie the same way to the layers of others; where only that matters,
	// the first stands for all of them.
	siblings [][]int
	firstsAt [][]int // the first layers by the areas that they cover
	barriers [][]int // of those, the ones with siblings that open what is over them
	places   map[*Treatment]place
	// others are treatments that left no layer, by area.
	others         [][]*Treatment
	order          *order
	trialsOn       map[string][]trial // by the treatment whose layer was tested, "" where unknown
	changes        []event            // removals, and examinations that found nothing
	contradictions []Contradiction
	config         Config
	looked         int // how often a layer was looked at to work out what became of all
	changesNoted   int // states of layers in parts of their ground
	overBarrier    []material.BarrierState
	followed       int // layers and relations that were followed to find what lies over barriers
	reached        *outOfSolvent
	changesLeft    int // removals and examinations that are left out
}

// New reads a specimen's treatments. A repeated or missing identifier is a
// fault; everything else that is wrong with the records is named as a
// contradiction, because what happened is never refused.
func New(c Config) (*Stack, error) {
	if err := c.check(); err != nil {
		return nil, err
	}
	s := build(c, newKnowing(c.Knowledge), nil)
	if err := s.Err(); err != nil {
		return nil, err
	}
	return s, nil
}

// check says which treatments have no identifier of their own.
func (c *Config) check() error {
	var faults fault.List
	seen := make(map[string]bool, len(c.Treatments))
	for i := range c.Treatments {
		id := c.Treatments[i].ID
		pointer := "/treatments/" + strconv.Itoa(i) + "/id"
		switch {
		case id == "":
			faults.Add("treatment-id-missing", pointer, "A treatment has no id; give each one an id of its own.")
		case seen[id]:
			faults.Add("treatment-id-repeated", pointer, "Two treatments have the same id; give each one an id of its own.")
		}
		seen[id] = true
	}
	return faults.Err()
}

// build reads the records. The atlas also holds the areas of a treatment that is
// to be checked; an earlier record of that treatment is left out.
func build(c Config, k knowing, checked *Treatment) *Stack {
	s := &Stack{
		specimen: c.Specimen, knowledge: k, settings: c.Settings.orDefaults(), at: c.At, config: c,
		byID: map[string]*Treatment{}, leftOut: map[string]bool{}, places: map[*Treatment]place{},
		layersOf: map[string][]int{}, trialsOn: map[string][]trial{},
	}
	for i := range c.Treatments {
		t := &c.Treatments[i]
		if t.Retracted || after(t.When.From, c.At) || checked != nil && t.ID == checked.ID {
			s.leftOut[t.ID] = true
		} else {
			s.treatments, s.byID[t.ID] = append(s.treatments, t), t
		}
	}
	slices.SortFunc(s.treatments, byDateThenID)
	areas := s.treatments
	if checked != nil {
		areas = append(slices.Clip(areas), checked)
	}
	s.atlas = newAtlas(withSamplingAreas(c.Specimen), areas)
	for _, work := range []func(){s.tieJoints, s.layDown, s.arrange, s.takeOff, s.findBarriers, s.readTrials} {
		if !s.left() {
			work()
		}
	}
	s.contradictions = sortContradictions(s.contradictions)
	return s
}

// withSamplingAreas adds the areas that samples are planned in.
func withSamplingAreas(sp Specimen) []SpecimenArea {
	marked := slices.Clone(sp.Areas)
	for _, p := range sp.Sampling {
		for _, a := range p.Areas {
			marked = append(marked, SpecimenArea{Path: a})
		}
	}
	return marked
}

// byDateThenID sorts by the latest possible day; treatments without one come
// last.
func byDateThenID(a, b *Treatment) int {
	return cmp.Or(compareEnds(a.When.To, b.When.To), compareEnds(a.When.From, b.When.From), cmp.Compare(a.ID, b.ID))
}

// compareEnds compares two days; an unknown one comes after every known one.
func compareEnds(a, b edtf.Day) int {
	switch {
	case a.IsZero() && b.IsZero():
		return 0
	case a.IsZero():
		return 1
	case b.IsZero():
		return -1
	}
	return a.Compare(b)
}

// tieJoints lets a joint and a bridging relation tie the pieces that they span,
// each to the first that is named.
func (s *Stack) tieJoints() {
	pieces := map[*Treatment][]int{}
	for _, t := range s.treatments {
		if s.left() {
			return
		}
		var spans []int
		seen := map[int]bool{}
		for _, spanned := range s.spanned(t) {
			if _, known := pieces[spanned]; !known {
				pieces[spanned] = s.atlas.piecesOf(spanned.Areas)
			}
			for _, piece := range pieces[spanned] {
				if !seen[piece] {
					seen[piece] = true
					spans = append(spans, piece)
				}
			}
		}
		s.atlas.join(spans, t.When.From)
	}
}

// spanned are the treatments whose pieces a treatment ties together, itself first:
// none where it is no joint and bridges nothing.
func (s *Stack) spanned(t *Treatment) []*Treatment {
	ties := t.Action == Joining || t.Role == Adhesive
	out := []*Treatment{t}
	seen := map[string]bool{t.ID: true}
	for _, r := range t.Relations {
		if r.Kind != Bridges {
			continue
		}
		ties = true
		if to, ok := s.byID[r.To]; ok && !seen[r.To] {
			seen[r.To] = true
			out = append(out, to)
		}
	}
	if !ties {
		return nil
	}
	return out
}

// place is where a recorded treatment was, and the areas that it covered for certain.
type place struct {
	footprint
	ground []Area
}

// layDown makes the layers and files them by area.
func (s *Stack) layDown() {
	s.firstsAt, s.barriers = make([][]int, len(s.atlas.paths)), make([][]int, len(s.atlas.paths))
	s.others = make([][]*Treatment, len(s.atlas.paths))
	s.layers = make([]Layer, 0, len(s.treatments))
	for _, t := range s.treatments {
		if s.left() {
			return
		}
		foot := s.atlas.reach(t)
		here := place{foot, s.atlas.ground(t, foot)}
		s.places[t] = here
		s.looked += foot.looked
		for _, l := range layersOf(t, s.knowledge) {
			l.foot.certain, l.Areas = foot.certain, here.ground
			if l.AreasUnknown || len(t.PossiblyReached) > 0 {
				l.foot = foot
			}
			s.layersOf[t.ID] = append(s.layersOf[t.ID], len(s.layers))
			s.layers = append(s.layers, l)
		}
		if together := s.layersOf[t.ID]; len(together) > 0 {
			s.file(together)
			continue
		}
		for _, a := range foot.certain {
			if len(s.others[a]) < maxListed {
				s.others[a] = append(s.others[a], t)
			}
		}
	}
}

// file files the layers of a treatment by the areas that they cover.
func (s *Stack) file(together []int) {
	for range together {
		s.siblings = append(s.siblings, together)
	}
	first := together[0]
	opens := slices.ContainsFunc(together, s.opens)
	for _, a := range s.layers[first].foot.certain {
		s.firstsAt[a] = append(s.firstsAt[a], first)
		if opens {
			s.barriers[a] = append(s.barriers[a], first)
		}
	}
}

// opens tells whether a layer is a barrier that opens what is over it.
func (s *Stack) opens(l int) bool {
	return s.layers[l].Role == Barrier && s.layers[l].Identity.may(failedBarriers) == No
}

// isFirst tells whether a layer is the first of its treatment.
func (s *Stack) isFirst(l int) bool { return s.siblings[l][0] == l }

// maxContradictions is how many contradictions an answer lists.
const maxContradictions = 500

// Contradictions are the faults in the records, in a fixed order, and how many
// there are beyond those that are listed.
func (s *Stack) Contradictions() (list []Contradiction, more int) {
	n := min(len(s.contradictions), maxContradictions)
	return slices.Clone(s.contradictions[:n]), len(s.contradictions) - n
}

// At is the day that the stack is about.
func (s *Stack) At() edtf.Day { return s.at }

func (s *Stack) contradict(code, sentence string, treatments ...string) {
	slices.Sort(treatments)
	treatments = slices.Compact(treatments)
	if over := len(treatments) - maxListed; over > 0 {
		sentence += fmt.Sprintf(" %d more treatments are concerned than are listed.", over)
		treatments = treatments[:maxListed]
	}
	s.contradictions = append(s.contradictions, Contradiction{Code: code, Treatments: treatments, Sentence: sentence})
}

func (at *atlas) ids(areas []Area) []int {
	var ids []int
	for _, a := range areas {
		ids = append(ids, at.id(a))
	}
	return ids
}

func compacted(ids []int) []int {
	slices.Sort(ids)
	return slices.Compact(ids)
}

// Has tells whether a treatment is among those on the day.
func (s *Stack) Has(treatment string) bool {
	_, ok := s.byID[treatment]
	return ok
}

// Layers are all layers on the day, in their order.
func (s *Stack) Layers() []*Layer {
	out := make([]*Layer, len(s.layers))
	for i := range s.layers {
		out[i] = &s.layers[i]
	}
	return out
}
