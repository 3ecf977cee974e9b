package calculation

import (
	"strings"

	"meniscus/api"
	"meniscus/internal/plain"
	"meniscus/internal/quantity"
	"meniscus/internal/solution"
)

// mostReasons is how many warnings that block nothing a text never cuts.
const mostReasons = 3

// told is an answer as text: what was asked for, what blocks it, hazards, the steps, what
// else there is to say, and the cautions; in full the sources at the end. The first three
// warnings are never cut. What the answer says already is not said again.
func told(answer, hazards string, steps []api.Text, advice api.ComputeAdvice, more ...string) plain.Text {
	var t plain.Text
	t.Keep(answer)
	var reasons []string
	for _, w := range advice.Warnings {
		switch {
		case strings.Contains(answer, w.Sentence):
		case w.Severity == api.ComputeWarningSeverityBlock:
			t.Keep(w.Sentence)
		default:
			reasons = append(reasons, w.Sentence)
		}
	}
	t.Keep(hazards)
	t.Steps(steps...)
	kept := min(mostReasons, len(reasons))
	t.Keep(reasons[:kept]...)
	t.Say(more...)
	t.Say(reasons[kept:]...)
	var cautions []string
	for _, c := range advice.Cautions {
		cautions = append(cautions, c.Sentence)
	}
	t.Keep(strings.Join(cautions, " "))
	for _, s := range deref(advice.Sources) {
		t.Say("- " + s.Id + ": " + s.Citation + " (" + string(s.Status) + ")")
	}
	return t
}

// MakeUpText is a recipe as text.
func MakeUpText(a api.MakeUpAnswer) plain.Text {
	var more []string
	if z := a.Smallest; z != nil && z.Enough { // else it is a warning
		more = append(more, z.Sentence)
	} else if z != nil && z.Instead != nil {
		more = append(more, z.Instead.Sentence)
	}
	return told(a.Answer, "", a.Steps, a.Advice, append(more, fitting(a.Preparation)...)...)
}

// fitting says whether the mixture fits the vessel, where one was named.
func fitting(p *api.Preparation) []string {
	if p == nil || p.Fit == nil {
		return nil
	}
	return []string{p.Fit.Sentence}
}

// DilutionText is a dilution as text.
func DilutionText(a api.DiluteAnswer) plain.Text {
	more := append(readingsTold(a.Readings), fitting(a.Preparation)...)
	if a.Leftover != nil {
		more = append(more, a.Leftover.Sentence)
	}
	return told(a.Answer, "", a.Steps, a.Advice, more...)
}

// BlendText is a blend as text.
func BlendText(a api.BlendAnswer) plain.Text {
	return told(a.Answer, "", a.Steps, a.Advice, readingsTold(a.Readings)...)
}

// AdjustmentText is an adjustment as text.
func AdjustmentText(a api.AdjustAnswer) plain.Text {
	return told(a.Answer, "", a.Steps, a.Advice, readingsTold(a.Readings)...)
}

// readingsTold gives the amounts of each reading of an unknown strength, and what they come
// to on the others.
func readingsTold(all *[]api.AnswerByReading) []string {
	var lines []string
	for _, r := range deref(all) {
		if r.Unanswered != nil {
			lines = append(lines, "If it is "+r.Said+": "+*r.Unanswered)
			continue
		}
		var amounts []string
		for _, i := range deref(r.Ingredients) {
			if i.Rounded != nil {
				amounts = append(amounts, saidAmount(*i.Rounded)+" of "+i.Name)
			}
		}
		for _, u := range deref(r.Uses) {
			amounts = append(amounts, saidAmount(u.Rounded)+" of "+u.Name)
		}
		line := "If it is " + r.Said + ": " + strings.Join(amounts, ", ") + "."
		if r.ComesTo != nil {
			line += " " + *r.ComesTo
		}
		lines = append(lines, line)
	}
	return lines
}

// saidAmount is a quantity as people write it.
func saidAmount(q api.ComputedQuantity) string {
	return saidNumber(q.Value, q.Uncertainty) + " " + quantity.Unit(q.Unit).Said()
}

// saidNumber has the digits that its uncertainty bears, four at most.
func saidNumber(x float64, u *api.ComputedUncertainty) string {
	return quantity.Measured{Value: x, Standard: deref(u).Standard}.Said()
}

// ConversionText is one solution on every basis as text; of an unknown basis, its readings.
func ConversionText(a api.ConvertAnswer) plain.Text {
	var more []string
	for _, r := range deref(a.Ranges) {
		if r.Sentence != a.Answer {
			more = append(more, r.Sentence)
		}
	}
	for _, r := range deref(a.Readings) {
		switch {
		case r.Unanswered != nil:
			more = append(more, r.Said+": "+*r.Unanswered)
		case r.In100mL != nil:
			more = append(more, r.Said+": "+saidAmount(*r.In100mL)+" in 100 mL of solution.")
		}
	}
	return told(a.Answer, "", nil, a.Advice, append(more, portionsTold(a)...)...)
}

// portionsTold says what an amount of it holds, and how much of it holds an amount.
func portionsTold(a api.ConvertAnswer) []string {
	var lines []string
	for _, p := range []*api.SolutionPortion{a.Amount, a.Holding} {
		if p != nil && p.Solids.Quantity != nil && p.Mass.Quantity != nil {
			lines = append(lines, saidAmount(*p.Mass.Quantity)+" of it hold "+saidAmount(*p.Solids.Quantity)+" of solids.")
		}
	}
	return lines
}

// DryCheckText is a strength found by drying as text.
func DryCheckText(a api.DryCheckAnswer) plain.Text {
	return told(a.Answer, "", a.Steps, a.Advice)
}

// ContainerText is the verdict on a container as text.
func ContainerText(a api.ContainerAnswer) plain.Text {
	parts := make([]string, len(a.Parts))
	for i, p := range a.Parts {
		parts[i] = string(p.Part) + " (" + p.Said + ") " + string(p.Verdict)
	}
	return told(a.Answer, "By part: "+strings.Join(parts, ", ")+".", a.Steps, a.Advice)
}

// EthanolWaterText is what was asked of ethanol and water as text.
func EthanolWaterText(a api.EthanolWater) plain.Text {
	return told(a.Answer, "", a.Steps, a.Advice)
}

// FormaldehydeText is a dilution of formaldehyde as text.
func FormaldehydeText(a api.FormaldehydeAnswer) plain.Text {
	return told(a.Answer, hazardsTold("Danger", a.Hazards), a.Steps, a.Advice)
}

// hazardsTold are hazard statements in one line.
func hazardsTold(signal string, hazards []api.HazardLine) string {
	if len(hazards) == 0 {
		return ""
	}
	texts := make([]string, len(hazards))
	for i, h := range hazards {
		texts[i] = strings.TrimSuffix(h.Text, ".")
	}
	return signal + ": " + strings.Join(texts, ". ") + "."
}

// SolventBlendText is a mixture of solvents as text.
func SolventBlendText(a api.SolventBlendAnswer) plain.Text {
	signal := "On the labels"
	if a.SignalWord != nil {
		signal = string(*a.SignalWord)
	}
	var more, order []string
	for _, l := range a.Evaporation {
		if l.Rate != nil {
			order = append(order, l.Solvent)
		}
	}
	if len(order) > 1 {
		more = append(more, "They leave in this order: "+strings.Join(order, ", ")+".")
	}
	return told(a.Answer, hazardsTold(signal, a.Hazards), a.Steps, a.Advice, more...)
}

// UptakeText is what went into a specimen as text.
func UptakeText(a api.UptakeAnswer) plain.Text {
	var more []string
	if a.PerMass != nil {
		more = append(more, "That is "+saidNumber(a.PerMass.Value, a.PerMass.Uncertainty)+" g to 100 g of specimen.")
	}
	if a.PerArea != nil {
		more = append(more, "That is "+saidNumber(a.PerArea.Value, a.PerArea.Uncertainty)+" g to a square metre.")
	}
	return told(a.Answer, "", a.Steps, a.Advice, more...)
}

// VapourText is what was asked of vapour as text.
func VapourText(a api.VapourAnswer) plain.Text {
	var more []string
	var clearing []api.Clearing
	end := "."
	if a.Work != nil {
		if a.Work.Evaporation != nil {
			end = " at the earliest."
		}
		for _, n := range deref(a.Work.AirNeeded) {
			more = append(more, n.Sentence)
		}
		clearing = a.Work.Clearing
	}
	if a.Air != nil {
		clearing = deref(a.Air.Clearing)
	}
	for _, c := range clearing {
		if c.After != nil && c.After.Value > 0 {
			more = append(more, "The air has come down to the number of "+solution.TheList(c.List)+" after about "+
				quantity.SaidHours(c.After.Value, 2)+end)
		}
	}
	return told(a.Answer, "", a.Steps, a.Advice, more...)
}
