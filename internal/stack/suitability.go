package stack

import (
	"slices"
	"strings"

	"meniscus/internal/material"
)

// Analyses are the kinds of analysis that suitability is answered for.
var Analyses = []string{
	"radiocarbon", "collagen-isotopes", "carbonate-isotopes", "phosphate-isotopes", "strontium-lead", "trace-elements",
	"luminescence", "ancient-dna", "proteins", "residues", "ct", "xrf", "surface-wear",
}

// Suitability is what the records say about samples for analysis. It never says
// clean.
type Suitability struct {
	Analyses []ForAnalysis
	// Exposures are the hours of liquid that are recorded, by area and liquid; at least
	// MoreExposures of a treatment in an area are not in them.
	Exposures     []ExposureTotal
	MoreExposures int
	// Unrecorded are the areas with no recorded treatment, and how sure that is.
	Unrecorded []UnrecordedArea
	// References are where samples of the batches used are kept.
	References []ReferenceSample
}

// ForAnalysis is what bears on one kind of analysis.
type ForAnalysis struct {
	Analysis string
	// Bearing is what is known to bear on it.
	Bearing []Bearing
	// Open are layers without a published statement on whether they bear on it,
	// unknown materials among them.
	Open     []BearingLayers
	Verdict  Verdict
	Sentence string
}

// Verdict sums up what is on record about one analysis. None says that a sample
// is clean.
type Verdict string

// The verdicts, the gravest first.
const (
	Bears        Verdict = "bears"
	MayBear      Verdict = "may-bear"      // unknown whether what is on record bears on it
	NothingKnown Verdict = "nothing-known" // something is on record, and none of it is known to bear on it
	NoRecord     Verdict = "not-recorded"  // no treatment is on record
)

// Bearing is one effect on the analysis, with the layers or exposures behind it.
type Bearing struct {
	BearingLayers
	Effect, Size, Condition string
	// Applies is yes, no or unknown: whether the condition is met by what is recorded.
	Applies Answer
	// Disturbs is yes, no (a reassurance, for where it applies) or unknown.
	Disturbs Answer
	Evidence Evidence
}

// BearingLayers are layers of one material and role, or one kind of exposure.
type BearingLayers struct {
	// Subject is the material, or the exposure (solvent-exposure, heat, acid, water).
	Subject string
	Role    Role
	// Certainty is how sure the material is, for layers.
	Certainty Certainty
	// Layers are the treatments, at most maxListed of them, of Count layers or
	// exposures; Areas are at most maxListed of AreaCount.
	Layers    []string
	Count     int
	Areas     []Area
	AreaCount int
}

// list names the treatments and areas, at most maxListed of each.
func (b BearingLayers) list(treatments []string, areas []Area) BearingLayers {
	b.Layers, b.Areas = compactedText(treatments), cleaned(areas)
	b.AreaCount = len(b.Areas)
	b.Areas = b.Areas[:min(len(b.Areas), maxListed)]
	return b
}

// ExposureTotal is how long a liquid stood on an area, over all treatments.
type ExposureTotal struct {
	Area    Area
	Solvent string
	// Hours are those that are recorded, nil where none are.
	Hours *float64
	// Unknown is how many treatments brought it without saying how long.
	Unknown int
	// Treatments are at most maxListed of the Count that brought it.
	Treatments []string
	Count      int
	last       string
}

// UnrecordedArea is an area with no recorded treatment.
type UnrecordedArea struct {
	Area Area
	// Sure says how sure it is: examined (an examination found nothing), or
	// not-recorded, which says nothing about what was done.
	Sure     AreaStatus
	Examined *Examined
	// PossiblyReached says that a neighbour's treatment, or one whose place is
	// unknown, may have reached it.
	PossiblyReached bool
}

// ReferenceSample is a kept sample of a batch that was used.
type ReferenceSample struct {
	Treatment, Batch, Where string
}

// Suitability answers for kinds of analysis; none named means all of them.
func (s *Stack) Suitability(analyses ...string) Suitability {
	if len(analyses) == 0 {
		analyses = Analyses
	}
	out := Suitability{Unrecorded: s.unrecordedAreas()}
	out.Exposures, out.MoreExposures = s.exposureTotals()
	groups, exposed := s.alike(), s.exposed(out.Exposures, out.MoreExposures > 0)
	for _, a := range analyses {
		one := ForAnalysis{Analysis: a}
		filed := map[effectFiled]bool{}
		for _, g := range groups {
			if s.left() {
				return out
			}
			s.bear(&one, filed, g)
		}
		s.bearExposures(&one, filed, exposed)
		one.Verdict = s.verdict(one)
		one.Sentence = verdictSentences[one.Verdict]
		out.Analyses = append(out.Analyses, one)
	}
	for i := range s.layers {
		if r := s.layers[i].ReferenceSample; r != "" {
			out.References = append(out.References, ReferenceSample{s.layers[i].Treatment, s.layers[i].Batch, r})
		}
	}
	return out
}

var verdictSentences = map[Verdict]string{
	Bears:        "Something on record bears on this analysis; see where, and flag any sample even after cleaning.",
	MayBear:      "Whether what is on record bears on this analysis is not known.",
	NothingKnown: "Nothing on record is known to bear on this analysis; that does not mean that nothing does.",
	NoRecord:     "No treatment is on record, which does not show that there was none.",
}

// verdict sums up. What has no record behind it (unrecorded heat, say) is listed,
// and weighs nothing: it is as open for every specimen. A reassurance weighs
// nothing where it applies, and leaves the question open where it is unknown
// whether it does.
func (s *Stack) verdict(of ForAnalysis) Verdict {
	bears, open := false, len(of.Open) > 0
	for _, b := range of.Bearing {
		if b.Count == 0 || b.Applies == No {
			continue
		}
		bears = bears || b.Applies == Yes && b.Disturbs == Yes
		open = open || b.Applies == Unknown || b.Disturbs == Unknown
	}
	switch {
	case bears:
		return Bears
	case open:
		return MayBear
	case len(s.treatments) == 0:
		return NoRecord
	}
	return NothingKnown
}

func disturbs(e material.AnalysisEffect) Answer {
	switch e.Disturbs {
	case "yes":
		return Yes
	case "no":
		return No
	}
	return Unknown
}

// alike is layers of one material and role.
type alike struct {
	BearingLayers
	first *Layer
	// there tells whether their effects have to be considered: what was not
	// detected any more, or may be another material, is unknown and never no.
	there Answer
}

// alike groups the layers of one material and role.
func (s *Stack) alike() []alike {
	var groups []alike
	type key struct {
		sort      layerSort
		verbatim  string
		certainty Certainty
	}
	for _, g := range grouped(s.Layers(), func(l *Layer) key {
		return key{l.sort(), l.Identity.Verbatim, l.Identity.Certainty}
	}) {
		one := alike{BearingLayers: s.bearingLayers(g), first: g[0]}
		if len(g[0].Identity.Candidates) <= 1 && slices.ContainsFunc(g, func(l *Layer) bool { return l.State.mayBeThere() }) {
			one.there = Yes
		}
		groups = append(groups, one)
	}
	return groups
}

// bear files what the tables say about a group of layers.
func (s *Stack) bear(out *ForAnalysis, filed map[effectFiled]bool, group alike) {
	found := false
	id := group.first.Identity
	for _, ref := range id.all() {
		for _, e := range s.knowledge.AnalysisEffects(ref.Material, material.Role(group.Role), out.Analysis) {
			found = found || e.Subject == ref.Material
			applies := group.there
			if !whilePresent(e.Condition) {
				applies = Unknown
			}
			s.fileEffect(out, filed, group.BearingLayers, e, applies)
		}
	}
	if !found || !id.Settled() {
		out.Open = append(out.Open, group.BearingLayers)
	}
}

// effectFiled identifies an effect of some layers that is already filed.
type effectFiled struct {
	effect, condition, subject, layers string
	role                               Role
	certainty                          Certainty
}

// fileEffect adds one effect once.
func (s *Stack) fileEffect(
	out *ForAnalysis, filed map[effectFiled]bool, layers BearingLayers, e material.AnalysisEffect, applies Answer,
) {
	key := effectFiled{
		e.Effect, e.Condition, layers.Subject, strings.Join(layers.Layers, "\x00"), layers.Role, layers.Certainty,
	}
	if filed[key] {
		return
	}
	filed[key] = true
	b := Bearing{BearingLayers: layers, Effect: e.Effect, Size: e.Size, Condition: e.Condition, Applies: applies,
		Disturbs: disturbs(e), Evidence: from(e.Evidence, e.Effect)}
	out.Bearing = append(out.Bearing, b)
}

// whilePresent tells whether an effect holds for as long as the material is
// there. Any other condition, such as an inert carrier, a record does not tell.
func whilePresent(condition string) bool {
	switch condition {
	case "", "if not fully removed":
		return true
	}
	return strings.HasPrefix(condition, "while present")
}

func (s *Stack) bearingLayers(group []*Layer) BearingLayers {
	var treatments []string
	var areas []Area
	for i, l := range group {
		if i == 0 || l.Treatment != group[i-1].Treatment { // those of one treatment have the same areas
			treatments, areas = append(treatments, l.Treatment), append(areas, l.Areas...)
		}
	}
	return BearingLayers{Subject: s.knowledge.describe(group[0].Identity), Role: group[0].Role,
		Certainty: group[0].Identity.Certainty, Count: len(group)}.list(treatments, areas)
}

// groundOf lists the areas that a recorded treatment covered for certain.
func (s *Stack) groundOf(t *Treatment) []Area { return s.places[t].ground }

// unrecordedAreas lists the areas with no recorded treatment; none where records are withheld, which
// may be about any.
func (s *Stack) unrecordedAreas() []UnrecordedArea {
	if s.specimen.Withheld > 0 {
		return nil
	}
	bare := s.bareFindings()
	acting := slices.DeleteFunc(slices.Clone(s.treatments), func(t *Treatment) bool {
		return t.Action == Examining || t.Action == Damage
	})
	touch := s.atlas.touches(s.reachOfAll(acting))
	var out []UnrecordedArea
	for _, a := range s.areasInNameOrder() {
		if touch[a] == Fully || touch[a] == Partly {
			continue
		}
		u := UnrecordedArea{Area: s.atlas.paths[a], Sure: NotRecorded, PossiblyReached: touch[a] == Possibly}
		if e := s.bareIn(a, bare); e != nil {
			u.Sure, u.Examined = NoneFound, e
		}
		out = append(out, u)
	}
	return out
}
