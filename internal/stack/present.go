package stack

import (
	"slices"

	"meniscus/internal/edtf"
)

// AreaStatus is what is recorded of an area. None of the three says that the
// area is untreated.
type AreaStatus string

const (
	HasLayers   AreaStatus = "layers"
	NoneFound   AreaStatus = "none-found"
	NotRecorded AreaStatus = "not-recorded"
)

// AreaState is what is on one area.
type AreaState struct {
	Area   Area
	Status AreaStatus
	// Layers are those that were put on this area itself.
	Layers []LayerHere
	// Through are the areas that this one lies in and whose layers cover it too.
	Through []Area
	// InParts are areas inside it that have layers or examinations of their own.
	InParts []Area
	// Other are treatments of the area that left no layer, a few of them: cleaning,
	// mechanical work, tests. An area with any of them has something on record.
	Other []*Treatment
	// Examined is the examination that found nothing, for none-found.
	Examined *Examined
}

// LayerHere is a layer and what is left of it in one area.
type LayerHere struct {
	Layer *Layer
	State LayerState
	// Event is the removal or examination that decided the state, if one did.
	Event *LocalState
}

// Examined is an examination that found nothing.
type Examined struct {
	Treatment string
	Area      Area
	When      edtf.Period
	Date      edtf.Date
	// How is the method, and Limit its limit of detection.
	How, Limit string
}

// Presence is a specimen's present state.
type Presence struct {
	At    edtf.Day
	Areas []AreaState
	// MoreLayers is how many layers there are in those areas beyond those that are listed.
	MoreLayers int
	// Unplaced are the layers whose place is unknown: they may be anywhere.
	Unplaced           []LayerHere
	Contradictions     []Contradiction
	MoreContradictions int
	// Undetermined are pairs of layers in one place whose order is unknown.
	Undetermined     []Pair
	MoreUndetermined bool
}

// Present gives the state of every area that the specimen lists or a treatment
// names. A layer is listed in the area that it was put on; the areas inside it
// name that area under Through, and list the layer again only where its state
// differs.
func (s *Stack) Present() Presence { return s.PresentIn(Whole) }

// PresentIn is Present of the areas that share ground with one by name.
func (s *Stack) PresentIn(only Area) Presence {
	pairs, more := s.Undetermined(maxPairs)
	p := Presence{At: s.at, Undetermined: pairs, MoreUndetermined: more}
	p.Contradictions, p.MoreContradictions = s.Contradictions()
	for l := range s.layers {
		if s.unplaced(l) {
			p.Unplaced = append(p.Unplaced, s.layerHere(l, 0))
		}
	}
	local := s.localByArea()
	bare := s.bareFindings()
	most := maxHere
	for _, a := range s.areasInNameOrder() {
		if s.left() {
			break
		}
		if !s.atlas.paths[a].Overlaps(only.Clean()) {
			continue
		}
		st := s.areaState(a, local[a], bare)
		for _, first := range slices.Concat(s.firstsAt[a], local[a]) {
			together := s.siblings[first]
			listed := together[:min(len(together), most)]
			for _, l := range listed {
				st.Layers = append(st.Layers, s.layerHere(l, a))
			}
			most, p.MoreLayers = most-len(listed), p.MoreLayers+len(together)-len(listed)
		}
		p.Areas = append(p.Areas, st)
	}
	return p
}

// maxHere is how many layers are listed in all areas together: a layer is listed in
// each area that it was put on.
const maxHere = 20_000

func (s *Stack) areasInNameOrder() []int {
	ids := make([]int, len(s.atlas.paths))
	for i := range ids {
		ids[i] = i
	}
	slices.SortFunc(ids, func(a, b int) int {
		if a == 0 || b == 0 { // whole comes first
			return a - b
		}
		if s.atlas.paths[a] < s.atlas.paths[b] {
			return -1
		}
		return 1
	})
	return ids
}

// unplaced tells whether the place of a layer is unknown.
func (s *Stack) unplaced(l int) bool {
	return s.layers[l].AreasUnknown && len(s.layers[l].foot.certain) == 0
}

// localByArea lists, for each area, the first layers of treatments whose state differs there
// from that of the area that they were put on. A layer whose place is unknown is in no area.
func (s *Stack) localByArea() map[int][]int {
	local := map[int][]int{}
	for l := range s.layers {
		if s.unplaced(l) || !s.isFirst(l) {
			continue
		}
		for _, e := range s.layers[l].Local {
			here := local[e.area]
			if listed := len(here) > 0 && here[len(here)-1] == l; !listed && !holds(s.layers[l].foot.certain, e.area) {
				local[e.area] = append(here, l)
			}
		}
	}
	return local
}

// areaState is what is on an area, but for the list of its layers.
func (s *Stack) areaState(a int, local []int, bare map[int]*Examined) AreaState {
	st := AreaState{Area: s.atlas.paths[a], Status: NotRecorded}
	if up := s.atlas.parent[a]; up >= 0 {
		s.atlas.above(up, func(i int) {
			if len(s.firstsAt[i]) > 0 {
				st.Through = append(st.Through, s.atlas.paths[i])
			}
		})
	}
	for _, c := range slices.Concat(s.atlas.children[a], s.atlas.cuts[a]) {
		if s.hasWithin(c) {
			st.InParts = append(st.InParts, s.atlas.paths[c])
		}
	}
	slices.Sort(st.InParts)
	s.atlas.above(a, func(i int) {
		st.Other = append(st.Other, s.others[i][:min(len(s.others[i]), maxListed-len(st.Other))]...)
	})
	if len(s.firstsAt[a])+len(local)+len(st.Through) > 0 {
		st.Status = HasLayers
	} else if e := s.bareIn(a, bare); e != nil {
		st.Status, st.Examined = NoneFound, e
	}
	return st
}

// hasWithin tells whether an area or one inside it has layers.
func (s *Stack) hasWithin(a int) bool {
	if len(s.firstsAt[a]) > 0 {
		return true
	}
	return slices.ContainsFunc(s.atlas.children[a], s.hasWithin)
}

func (s *Stack) layerHere(l, a int) LayerHere {
	here := LayerHere{Layer: &s.layers[l], State: s.stateIn(l, a)}
	if k := s.decisive(l, a); k >= 0 {
		here.Event = &s.layers[l].Local[k]
	}
	return here
}

// bareFindings lists the last examination that found nothing, by the area that
// it names.
func (s *Stack) bareFindings() map[int]*Examined {
	bare := map[int]*Examined{}
	for _, t := range s.treatments {
		if !t.Examination.bare() {
			continue
		}
		for _, named := range t.Areas {
			for _, a := range s.atlas.covers(s.atlas.id(named)) {
				bare[a] = &Examined{Treatment: t.ID, Area: named.Clean(), When: t.When, Date: t.Date,
					How: t.Examination.How, Limit: t.Examination.Limit}
			}
		}
	}
	return bare
}

// bareIn is the examination that covers an area, if there is one.
func (s *Stack) bareIn(a int, bare map[int]*Examined) *Examined {
	var found *Examined
	s.atlas.above(a, func(i int) {
		if found == nil {
			found = bare[i]
		}
	})
	return found
}

// maxPairs is how many undetermined pairs an answer lists.
const maxPairs = 100

// Pair is two layers in one place whose order is not recorded and does not
// follow from the dates.
type Pair struct {
	A, B string // treatments, A before B in the alphabet
	Area Area
}

// Undetermined lists up to limit pairs of treatments whose layers share ground
// and whose order is not known; more tells whether there are others. The first
// layer of a treatment stands for all of them.
func (s *Stack) Undetermined(limit int) (pairs []Pair, more bool) {
	seen := map[Pair]bool{}
	rel := relations{order: s.order}
	own := make([][]int, len(s.firstsAt)) // layers met so far that may still overlap, by area
	inside := make([][]int, len(s.firstsAt))
	var met []int
	for _, l := range s.byStart() {
		if s.left() {
			return pairs, true
		}
		from := s.layers[l].When.From
		for _, a := range s.layers[l].foot.certain {
			met = met[:0]
			s.atlas.above(a, func(i int) { own[i] = s.stillOpen(own[i], from); met = append(met, own[i]...) })
			inside[a] = s.stillOpen(inside[a], from)
			met = append(met, inside[a]...)
			for _, m := range met {
				if rel.followed > maxFollowed {
					return pairs, true
				}
				if under, over := rel.between(l, m); under || over {
					continue
				}
				pair := s.pairOf(m, l, a)
				if seen[pair] {
					continue
				}
				if len(pairs) == limit {
					return pairs, true
				}
				seen[pair] = true
				pairs = append(pairs, pair)
			}
		}
		for _, a := range s.layers[l].foot.certain {
			own[a] = append(own[a], l)
			if up := s.atlas.parent[a]; up >= 0 {
				s.atlas.above(up, func(i int) { inside[i] = append(inside[i], l) })
			}
		}
	}
	return pairs, false
}

// byStart sorts the first layers of treatments by their first possible day; layers
// without one come first. A layer whose dates are distrusted counts as without date.
func (s *Stack) byStart() []int {
	var ids []int
	for l := range s.layers {
		if s.isFirst(l) {
			ids = append(ids, l)
		}
	}
	slices.SortStableFunc(ids, func(a, b int) int {
		return s.start(a).Compare(s.start(b))
	})
	return ids
}

func (s *Stack) start(l int) edtf.Day {
	if s.order.undated[l] {
		return edtf.Day{}
	}
	return s.layers[l].When.From
}

// stillOpen keeps the layers that may not have been done before a day.
func (s *Stack) stillOpen(ids []int, from edtf.Day) []int {
	if from.IsZero() {
		return ids
	}
	return slices.DeleteFunc(ids, func(l int) bool {
		to := s.layers[l].When.To
		return !s.order.undated[l] && !to.IsZero() && to.Compare(from) < 0
	})
}

func (s *Stack) pairOf(m, l, a int) Pair {
	p := Pair{A: s.layers[m].Treatment, B: s.layers[l].Treatment, Area: s.atlas.paths[a]}
	if p.A > p.B {
		p.A, p.B = p.B, p.A
	}
	return p
}
