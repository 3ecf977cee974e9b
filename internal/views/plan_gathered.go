package views

import (
	"fmt"
	"slices"

	"meniscus/api"
)

// gather says once for a whole plan what several of its steps say: what blocks them, what has
// to be done before and after, and their cautions. It is the same in brief and in full.
func gather(p *api.RemovalPlan) {
	p.Findings, p.After = []api.Finding{}, []api.PlanPreparation{}
	g := gathered{cautions: map[string][]int32{}}
	for i, s := range p.Steps {
		n := int32(i + 1)
		for _, f := range deref(s.Findings) {
			p.Findings = withFinding(p.Findings, f)
		}
		for _, x := range deref(s.Before) {
			p.Before = withPreparation(p.Before, x, n)
		}
		for _, x := range deref(s.After) {
			p.After = withPreparation(p.After, x, n)
		}
		for _, c := range deref(s.Cautions) {
			g.caution(c, n)
		}
	}
	for _, c := range g.order {
		p.Cautions = append(p.Cautions, stepsSaid(g.cautions[c])+": "+c)
	}
}

// gathered are the cautions of steps, in the order in which they come.
type gathered struct {
	cautions map[string][]int32
	order    []string
}

func (g *gathered) caution(text string, step int32) {
	if g.cautions[text] == nil {
		g.order = append(g.order, text)
	}
	g.cautions[text] = append(g.cautions[text], step)
}

// mostGathered is how many layers a finding of a whole plan names; it counts all.
const mostGathered = 5

// withFinding adds a finding, or its layers to the one that says the same.
func withFinding(list []api.Finding, f api.Finding) []api.Finding {
	i := slices.IndexFunc(list, func(x api.Finding) bool {
		return x.Rule == f.Rule && x.Severity == f.Severity && x.Sentence == f.Sentence
	})
	if i < 0 {
		f.Count = new(max(deref(f.Count), int32(len(deref(f.Layers)))))
		f.Layers = listOrNone(slices.Clone(deref(f.Layers)))
		return append(list, f)
	}
	x := &list[i]
	x.Count = new(deref(x.Count) + max(deref(f.Count), int32(len(deref(f.Layers)))))
	x.Layers = listOrNone(joinedRefs(deref(x.Layers), deref(f.Layers)))
	return list
}

// withPreparation adds a preparation of a step, or the step to the one that says the same.
func withPreparation(list []api.PlanPreparation, x api.PlanPreparation, step int32) []api.PlanPreparation {
	i := slices.IndexFunc(list, func(y api.PlanPreparation) bool {
		return y.Steps != nil && y.Code == x.Code && y.Sentence == x.Sentence
	})
	if i < 0 {
		x.Steps = &[]int32{step}
		x.Layers, x.Count = nil, nil
		return append(list, x)
	}
	list[i].Steps = new(append(*list[i].Steps, step))
	return list
}

func joinedRefs(all, more []api.RecordRef) []api.RecordRef {
	for _, ref := range more {
		if len(all) < mostGathered && !slices.Contains(all, ref) {
			all = append(all, ref)
		}
	}
	return all
}

// planAnswer is a plan in a sentence or two; withheld are the treatments of which it is not told what they
// left.
func planAnswer(p api.RemovalPlan, withheld int) string {
	text := "Nothing on record could come off."
	if withheld > 0 {
		text = "Nothing that is told here could come off."
	}
	if n := len(p.Steps); n > 0 {
		text = fmt.Sprintf("%s could come off, in this order, each after a test.", counted(n, "layer", "layers"))
	}
	if n := countsOf(p.Findings, func(f api.Finding) api.Severity { return f.Severity }); n.Block > 0 {
		text = "Blocked until it is prepared: " + text
	}
	if withheld > 0 {
		text += " " + leftUntold(withheld)
	}
	if p.Remaining > 0 {
		text += fmt.Sprintf(" %s after those.", counted(int(p.Remaining), "more layer comes", "more layers come"))
	}
	if n := len(p.Unreachable) + int(p.MoreUnreachable); n > 0 {
		text += fmt.Sprintf(" No solvent gets at %s.", counted(n, "layer", "layers"))
	}
	if n := len(deref(p.Kept)) + int(deref(p.MoreKept)); n > 0 {
		text += fmt.Sprintf(" %s (joints, labels, barriers, and what lies under those) unless named.",
			counted(n, "layer stays", "layers stay"))
	}
	if n := len(p.Questions); n > 0 {
		more := ""
		if p.MoreQuestions {
			more = " or more"
		}
		text += fmt.Sprintf(" Of %s%s it is not known which layer lies on top: find that out first.",
			counted(n, "pair", "pairs"), more)
	}
	return text
}
