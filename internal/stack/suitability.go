package stack

import (
	"math"
	"regexp"
	"slices"
	"strconv"
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
	// Exposures are the hours of liquid that are recorded, by area and liquid.
	Exposures []ExposureTotal
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
	// Open are layers of which nobody published whether they bear on it, unknown
	// materials among them.
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
	MayBear      Verdict = "may-bear"      // nobody knows whether what is on record bears on it
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
	Layers  []string
	Count   int
	Areas   []Area
}

// ExposureTotal is how long a liquid stood on an area, over all treatments.
type ExposureTotal struct {
	Area    Area
	Solvent string
	Hours   float64
	// Unknown is how many treatments brought it without saying how long.
	Unknown    int
	Treatments []string
}

// UnrecordedArea is an area with no recorded treatment.
type UnrecordedArea struct {
	Area Area
	// Sure says how sure it is: examined (an examination found nothing), or
	// not-recorded, which says nothing about what was done.
	Sure     AreaStatus
	Examined *Examined
	// PossiblyReached says that a neighbour's treatment, or one that nobody can
	// place, may have reached it.
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
	out := Suitability{Exposures: s.exposureTotals(), Unrecorded: s.unrecordedAreas()}
	groups := s.alike()
	for _, a := range analyses {
		one := ForAnalysis{Analysis: a}
		for _, g := range groups {
			s.bear(&one, g)
		}
		s.bearExposures(&one, out.Exposures)
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

// verdict sums up. What has no record behind it (heat of which nobody wrote, say)
// is listed, and weighs nothing: it is as open for every specimen. A reassurance
// weighs nothing where it applies, and leaves the question open where nobody knows
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

// alike groups the layers of one material and role.
func (s *Stack) alike() [][]int {
	at := map[string]int{}
	var groups [][]int
	for l := range s.layers {
		key := s.layers[l].key + "\x00" + s.layers[l].Identity.Verbatim + "\x00" + string(s.layers[l].Role)
		i, ok := at[key]
		if !ok {
			i = len(groups)
			at[key] = i
			groups = append(groups, nil)
		}
		groups[i] = append(groups[i], l)
	}
	return groups
}

// bear files what the tables say of a group of layers.
func (s *Stack) bear(out *ForAnalysis, group []int) {
	first := &s.layers[group[0]]
	layers := s.bearingLayers(group)
	found := false
	role := material.Role(first.Role)
	for _, ref := range first.Identity.all() {
		for _, e := range s.knowledge.AnalysisEffects(ref.Material, role, out.Analysis) {
			found = found || e.Subject == ref.Material
			applies := s.stillThere(group, len(first.Identity.Candidates) > 1)
			if !whilePresent(e.Condition) {
				applies = Unknown
			}
			s.fileEffect(out, layers, e, applies)
		}
	}
	if !found || !first.Identity.Settled() {
		out.Open = append(out.Open, layers)
	}
}

// fileEffect adds one effect once.
func (s *Stack) fileEffect(out *ForAnalysis, layers BearingLayers, e material.AnalysisEffect, applies Answer) {
	same := func(b Bearing) bool {
		return b.Effect == e.Effect && b.Condition == e.Condition && b.Subject == layers.Subject && b.Role == layers.Role && slices.Equal(b.Layers, layers.Layers)
	}
	if slices.ContainsFunc(out.Bearing, same) {
		return
	}
	b := Bearing{BearingLayers: layers, Effect: e.Effect, Size: e.Size, Condition: e.Condition, Applies: applies, Disturbs: disturbs(e), Evidence: from(e.Evidence, e.Effect)}
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

// stillThere answers whether an effect of a layer has to be reckoned with: what
// was not detected any more, or may be another material, is unknown and never no.
func (s *Stack) stillThere(group []int, oneOfSeveral bool) Answer {
	for _, l := range group {
		if s.layers[l].State.mayBeThere() && !oneOfSeveral {
			return Yes
		}
	}
	return Unknown
}

func (s *Stack) bearingLayers(group []int) BearingLayers {
	first := &s.layers[group[0]]
	b := BearingLayers{Subject: s.knowledge.describe(first.Identity), Role: first.Role, Count: len(group)}
	for _, l := range group {
		if len(b.Layers) < maxListed && !slices.Contains(b.Layers, s.layers[l].Treatment) {
			b.Layers = append(b.Layers, s.layers[l].Treatment)
		}
		for _, a := range s.layers[l].Areas {
			if len(b.Areas) < maxListed && !slices.Contains(b.Areas, a) {
				b.Areas = append(b.Areas, a)
			}
		}
	}
	slices.Sort(b.Areas)
	return b
}

// exposureTotals adds up the hours of each liquid by named area.
func (s *Stack) exposureTotals() []ExposureTotal {
	type key struct {
		area    Area
		solvent string
	}
	totals := map[key]*ExposureTotal{}
	var keys []key
	for _, t := range s.treatments {
		areas := cleaned(t.Areas)
		if len(areas) == 0 {
			areas = []Area{Whole}
		}
		said := map[string]bool{}
		add := func(solvent string, hours *float64) {
			for _, a := range areas {
				k := key{a, solvent}
				if totals[k] == nil {
					totals[k] = &ExposureTotal{Area: a, Solvent: solvent}
					keys = append(keys, k)
				}
				totals[k].count(t.ID, hours)
			}
		}
		for _, e := range t.Exposures {
			said[e.Solvent] = true
			add(e.Solvent, e.Hours)
		}
		liquids, _ := s.knowledge.liquidsOf(t)
		for _, l := range liquids {
			if !said[l.Solvent] {
				add(l.Solvent, nil)
			}
		}
	}
	slices.SortFunc(keys, func(a, b key) int {
		return strings.Compare(string(a.area)+"\x00"+a.solvent, string(b.area)+"\x00"+b.solvent)
	})
	out := make([]ExposureTotal, 0, len(keys))
	for _, k := range keys {
		out = append(out, *totals[k])
	}
	return out
}

func (x *ExposureTotal) count(treatment string, hours *float64) {
	if hours == nil {
		x.Unknown++
	} else {
		x.Hours += *hours
	}
	if len(x.Treatments) < maxListed && !slices.Contains(x.Treatments, treatment) {
		x.Treatments = append(x.Treatments, treatment)
	}
}

// bearExposures files what the tables say of exposures: hours of solvent, and
// heat, acid and water where a record speaks of them.
func (s *Stack) bearExposures(out *ForAnalysis, totals []ExposureTotal) {
	solvent := BearingLayers{Subject: "solvent-exposure"}
	hours, open := 0.0, false
	byArea := map[Area]float64{}
	for _, x := range totals {
		if !s.knowledge.polar([]Share{{Solvent: x.Solvent}}) && !s.knowledge.known(x.Solvent) {
			open = true
		}
		byArea[x.Area] += x.Hours
		hours = max(hours, byArea[x.Area])
		open = open || x.Unknown > 0
		solvent.Areas = append(solvent.Areas, x.Area)
		solvent.Layers = append(solvent.Layers, x.Treatments...)
	}
	solvent.Areas, solvent.Layers = slices.Compact(solvent.Areas), compactedText(solvent.Layers)
	solvent.Count = len(solvent.Layers)
	for _, subject := range []string{"solvent-exposure", "acid", "heat", "water"} {
		for _, e := range s.knowledge.AnalysisEffects(subject, material.UnknownRole, out.Analysis) {
			layers := solvent
			applies := meetsHours(e.Condition, hours, open, len(totals) > 0)
			if subject != "solvent-exposure" {
				layers, applies = s.exposedTo(subject)
			}
			if applies != No || layers.Count > 0 {
				s.fileEffect(out, layers, e, applies)
			}
		}
	}
}

// exposedTo lists the treatments that brought acid, warm liquid or water. None
// on record is unknown, not no.
func (s *Stack) exposedTo(subject string) (BearingLayers, Answer) {
	b := BearingLayers{Subject: subject}
	for _, t := range s.treatments {
		liquids, _ := s.knowledge.liquidsOf(t)
		hit := false
		switch subject {
		case "acid":
			hit = t.Action == AcidPreparation || s.knowledge.anyIsA(liquids, "acids") || (t.Environment.PH != nil && *t.Environment.PH < 6)
		case "heat":
			hit = s.knowledge.anyIsA(liquids, "hot-water")
		case "water":
			hit = s.knowledge.waterborne(liquids) || t.Action == Desalination
		}
		if hit {
			b.Layers = append(b.Layers, t.ID)
			b.Areas = append(b.Areas, cleaned(t.Areas)...)
		}
	}
	b.Count = len(b.Layers)
	b.Layers, b.Areas = compactedText(b.Layers), cleaned(b.Areas)
	if b.Count > 0 {
		return b, Yes
	}
	return b, Unknown
}

var hoursCondition = regexp.MustCompile(`(over|under) ([0-9]+) h`)

// meetsHours answers whether a condition such as "polar solvent, over 48 h" is
// met by the hours that are recorded; hours that nobody recorded leave it open.
func meetsHours(condition string, hours float64, open, exposed bool) Answer {
	m := hoursCondition.FindStringSubmatch(condition)
	if m == nil {
		if exposed {
			return Yes
		}
		return Unknown
	}
	limit, _ := strconv.ParseFloat(m[2], 64)
	over := hours > limit
	switch {
	case m[1] == "over" && over:
		return Yes
	case open || !exposed:
		return Unknown
	case m[1] == "over":
		return No
	case over:
		return No
	}
	return Yes
}

// unrecordedAreas lists the areas with no recorded treatment.
func (s *Stack) unrecordedAreas() []UnrecordedArea {
	bare := s.bareFindings()
	var all footprint
	for _, t := range s.treatments {
		if t.leavesMaterial() || t.bringsLiquid() {
			f := s.atlas.reach(t)
			all.certain, all.possible = append(all.certain, f.certain...), append(all.possible, f.possible...)
		}
	}
	all.certain, all.possible = compacted(all.certain), compacted(all.possible)
	touch := s.atlas.touches(all)
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

// libbyMeanLife is the mean life of 14C, in years, of the conventional age:
// Stuiver and Polach, Radiocarbon 19, 1977 (recalled; source not seen).
const libbyMeanLife = 8033

// DeadCarbonShift is by how many years a conventional radiocarbon age comes out
// too old when a fraction f of the carbon is free of 14C:
//
//	Δt = 8033 · ln(1 / (1 − f))
//
// 0 ≤ f < 1; for f = 0.01 it is 81 years. Outside, ok is false. Nothing is
// rounded.
func DeadCarbonShift(f float64) (years float64, ok bool) {
	if !(f >= 0 && f < 1) {
		return 0, false
	}
	return libbyMeanLife * math.Log(1/(1-f)), true
}
