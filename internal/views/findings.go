package views

import (
	"cmp"
	"slices"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/material"
	"meniscus/internal/record"
	"meniscus/internal/stack"
)

// unrecordedCaution stands beside every answer about what is on a specimen.
const unrecordedCaution = "An area without a record is not shown to be untreated."

// TreatmentCheck is what the check of a proposed treatment found on its specimen, with
// what is odd about it without layers. The specimen is nil where it is not registered
// yet.
func TreatmentCheck(
	specimen *uuid.UUID, sp *stack.Specimen, checked stack.Checked, odd []record.Finding,
) api.TreatmentCheck {
	of, cut := aboutOf(sp), false
	var c cited
	findings := withOdd(each(checked.Findings, c.finding), odd)
	out := api.TreatmentCheck{
		Answer: unregistered(odd) + verdict(checked.Blocked(), findings), Blocked: checked.Blocked(),
		MergedInto: of.mergedInto, Hazards: of.hazards, PassedOn: of.passedOn,
		Findings: findings, Cleared: new(each(checked.Cleared, c.cleared)),
		Contradictions:     contradictions(listed(&cut, checked.Contradictions, mostListed)),
		MoreContradictions: count(checked.MoreContradictions),
		Specimen:           api.RefIf(specimen), Unanswerable: unanswerable(checked.Findings),
		Ask: ask(registered(specimen, sp), checked.Findings),
	}
	out.Cautions = of.cautions(cut, unrecordedCaution)
	out.Sources = c.texts()
	return out
}

// registered is a specimen that is on record; nil for one that is not.
func registered(id *uuid.UUID, sp *stack.Specimen) *stack.Specimen {
	if id == nil {
		return nil
	}
	return sp
}

// verdict is what a check comes to.
func verdict(blocked bool, findings []api.Finding) string {
	n := countsOf(findings, func(f api.Finding) api.Severity { return f.Severity })
	if blocked {
		return "Blocked: not as it stands. " + n.said()
	}
	return "Not blocked. " + n.said()
}

// unregistered begins the answer where the specimen is not on record, so that no layers
// were checked.
func unregistered(odd []record.Finding) string {
	for _, f := range odd {
		switch f.Rule {
		case record.NumberNearlyKnown:
			return f.Sentence + " "
		case record.NumberNotKnown:
			return "The number is not known here. "
		}
	}
	return ""
}

// Odd are findings of a statement that need no layers.
func Odd(list []record.Finding) []api.Finding {
	return each(list, func(f record.Finding) api.Finding {
		return api.Finding{Rule: f.Rule, Severity: api.Severity(f.Severity), Records: listOrNone(api.Refs(f.Records)),
			Sentence: f.Sentence, Remedy: said(f.Remedy)}
	})
}

// withOdd adds what is odd without layers to the findings, by severity, and first within
// each severity. Those about the people who work on it stand before all others.
func withOdd(findings []api.Finding, odd []record.Finding) []api.Finding {
	all := append(Odd(odd), findings...)
	order := []api.Severity{api.SeverityBlock, api.SeverityWarn, api.SeverityInfo}
	slices.SortStableFunc(all, func(a, b api.Finding) int {
		return cmp.Or(-cmp.Compare(first(a), first(b)),
			cmp.Compare(slices.Index(order, a.Severity), slices.Index(order, b.Severity)))
	})
	return all
}

// first is 1 for a finding about the people who work on the specimen, and 0 for others.
func first(f api.Finding) int {
	if stack.AboutPeople(f.Rule) {
		return 1
	}
	return 0
}

func (c *cited) finding(f stack.Finding) api.Finding {
	out := api.Finding{
		Rule: f.Rule, Severity: api.Severity(f.Severity), Layers: listOrNone(refsOf(f.Layers)), Count: count(f.Count),
		Sentence: f.Sentence, Remedy: said(f.Remedy), Sources: c.idsOrNone(f.Sources),
		Evidence: listOrNone(c.rests(f.Evidence)), MoreEvidence: count(f.MoreEvidence),
		Unknown: yes(f.Unknown), Possible: yes(f.Possible), Unanswerable: yes(f.Unanswerable),
		Traits:       listOrNone(each(f.Traits, func(t stack.Trait) api.BodyTraitName { return api.BodyTraitName(t) })),
		TunedBecause: said(f.TunedBecause), Overridden: said(f.Overridden),
	}
	if len(f.Areas) == 1 {
		out.Area = said(f.Areas[0])
	} else {
		out.Areas = listOrNone(areaNames(f.Areas))
	}
	out.Status = (*api.ValueStatus)(said(f.Status))
	out.TunedFrom = (*api.Severity)(said(f.TunedFrom))
	return out
}

func (c *cited) cleared(x stack.Cleared) api.ClearedMatter {
	return api.ClearedMatter{
		Rule: api.RuleId(x.Rule), Layers: listOrNone(refsOf(x.Layers)), Count: count(x.Count), Sentence: x.Sentence,
		Sources: c.idsOrNone(x.Sources), Evidence: listOrNone(c.rests(x.Evidence)), MoreEvidence: count(x.MoreEvidence),
	}
}

func contradictions(list []stack.Contradiction) []api.Contradiction {
	return each(list, func(x stack.Contradiction) api.Contradiction {
		return api.Contradiction{Code: x.Code, Treatments: refsOf(x.Treatments), Sentence: x.Sentence}
	})
}

func pair(p stack.Pair) api.LayerPair {
	return api.LayerPair{Treatments: refsOf([]string{p.A, p.B}), Area: string(p.Area)}
}

// KeptFinding is a finding as it is kept beside a record, with the sequence number that it
// was made at; nil: it was made just now.
type KeptFinding struct {
	stack.Finding
	Sequence *int64
}

// Findings are those that are kept beside a treatment or a plan of a specimen, with what is
// odd about it without layers. The specimen is nil where it cannot be read.
func Findings(sp *stack.Specimen, kept []KeptFinding, odd []record.Finding) api.FindingList {
	var c cited
	found := each(kept, func(k KeptFinding) stack.Finding { return k.Finding })
	all := withOdd(each(kept, func(k KeptFinding) api.Finding {
		f := c.finding(k.Finding)
		f.Sequence = k.Sequence
		return f
	}), odd)
	n := countsOf(all, func(f api.Finding) api.Severity { return f.Severity })
	out := api.FindingList{Answer: n.said(), Items: all, Cautions: []string{material.SheetFirst}}
	if sp != nil {
		of := aboutOf(sp)
		out.Hazards, out.Cautions = of.hazards, of.cautions(false)
	}
	out.Unanswerable, out.Ask = unanswerable(found), ask(sp, found)
	out.Sources = c.texts()
	return out
}

// unanswerable counts the findings that can no longer be answered.
func unanswerable(found []stack.Finding) *int64 {
	n := int64(0)
	for _, f := range found {
		if f.Unanswerable {
			n++
		}
	}
	if n == 0 {
		return nil
	}
	return &n
}

// ask asks once for the traits of a body that are not stated and would settle findings;
// nil where there are none.
func ask(sp *stack.Specimen, found []stack.Finding) *api.BodyQuestion {
	var traits []stack.Trait
	n := 0
	for _, f := range found {
		if len(f.Traits) == 0 {
			continue
		}
		n++
		for _, t := range f.Traits {
			if !slices.Contains(traits, t) {
				traits = append(traits, t)
			}
		}
	}
	if n == 0 {
		return nil
	}
	slices.Sort(traits)
	out := &api.BodyQuestion{
		Findings: int64(n),
		Sentence: "Say how this body is made (" + stack.ToldTraits(traits) + "), and " +
			counted(n, "finding is", "findings are") + " settled.",
		BodyTraits: each(traits, func(t stack.Trait) api.BodyTrait {
			return api.BodyTrait{Trait: api.BodyTraitName(t), Answer: api.YesNoUnknown}
		}),
	}
	if sp != nil {
		out.Amendments, out.Collection = new("/v1/records/"+sp.ID+"/amendments"), said(sp.Collection)
	}
	return out
}
