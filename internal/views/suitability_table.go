package views

import (
	"fmt"
	"slices"
	"strings"

	"meniscus/api"
	"meniscus/internal/quantity"
)

// SuitabilityColumns are the columns of the report of suitability: a line for each
// specimen and analysis.
var SuitabilityColumns = []string{
	"specimen", "number", "collection", "treatments", "analysis", "verdict", "bears", "mayBear", "notKnown", "effects",
	"areas", "solventHours", "hoursNotRecorded", "areasWithoutRecord", "referenceSamples", "sentence", "hazards",
	"passedOn", "withheld",
}

// SuitabilityCells are the cells of a specimen and an analysis.
func SuitabilityCells(x api.SpecimenSuitability, a api.ForAnalysis) []string {
	var bears, mayBear, open, effects, areas, hours, unrecorded, references []string
	missing := 0
	for _, b := range deref(a.Bearing) {
		if b.On.Count == 0 || b.Applies == "no" {
			continue
		}
		switch {
		case b.Applies == "yes" && b.Disturbs == "no": // it applies and disturbs nothing
		case b.Applies == "yes" && b.Disturbs == "yes":
			bears = append(bears, b.On.Subject)
		default:
			mayBear = append(mayBear, b.On.Subject)
		}
		effects, areas = append(effects, effectText(b)), append(areas, b.On.Areas...)
	}
	for _, o := range deref(a.Open) {
		open, areas = append(open, o.Subject), append(areas, o.Areas...)
	}
	for _, e := range x.Exposures {
		hours = append(hours, e.Solvent+" in "+e.Area+": "+hoursText(e))
		missing += int(e.Unknown)
	}
	for _, u := range x.Unrecorded {
		unrecorded = append(unrecorded, u.Area+" ("+string(u.Sure)+")")
	}
	for _, s := range x.References {
		references = append(references, s.Where)
	}
	return []string{
		x.Specimen.Id.String(), deref(x.Number), deref(x.Collection), fmt.Sprint(x.Treatments),
		string(a.Analysis), string(a.Verdict), joined(bears), joined(mayBear), joined(open), joined(effects),
		joined(areas), joined(hours), fmt.Sprint(missing), joined(unrecorded), joined(references), deref(a.Sentence),
		hazardsCell(x.Hazards), passedOnCell(x.PassedOn), withheldCell(x.Withheld),
	}
}

// withheldCell says that records about a specimen are withheld.
func withheldCell(n *api.Count) string {
	if n == nil {
		return ""
	}
	return fmt.Sprintf("%d records withheld", *n)
}

// hazardsCell names the hazards of a specimen and how each stands, the gravest first.
func hazardsCell(hazards *api.Hazards) string {
	if hazards == nil {
		return "not recorded"
	}
	return strings.Join(each(deref(hazards), func(h api.HazardOnRecord) string {
		name := string(h.Hazard)
		if h.Substance != nil {
			name += ": " + *h.Substance
		}
		return name + " (" + strings.ReplaceAll(string(h.Status), "-", " ") + ")"
	}), "; ")
}

// passedOnCell says where a specimen that left went, and when.
func passedOnCell(to *api.WentTo) string {
	if to == nil {
		return ""
	}
	return to.To + ", " + to.Date
}

// hoursText says how long a liquid stood. Where some hours are not recorded, the sum of
// the others is a lower bound.
func hoursText(x api.ExposureTotal) string {
	switch {
	case x.Hours == nil:
		return "hours not recorded"
	case x.Unknown > 0:
		return "at least " + quantity.SaidHours(*x.Hours, 4)
	}
	return quantity.SaidHours(*x.Hours, 4)
}

func effectText(b api.AnalysisBearing) string {
	text := b.Effect
	if b.Size != nil {
		text += ": " + *b.Size
	}
	if b.Condition != nil {
		text += " (" + *b.Condition + ")"
	}
	return text
}

// joined is a cell with each text once.
func joined(texts []string) string {
	slices.Sort(texts)
	return strings.Join(slices.Compact(texts), "; ")
}
