package solution

import (
	"fmt"
	"strings"

	"meniscus/internal/quantity"
)

// PartMeasure is how much of one solvent goes into an amount of a blend: by volume where the
// amount is a volume, by mass where it is a mass.
type PartMeasure struct {
	Unit           quantity.Unit
	Exact, Rounded float64
	// Share is the fraction that the rounded amounts give, by the measure that they are in.
	Share float64
}

// pours adds what to measure of each solvent, with fractions φᵢ by volume before mixing
// and wᵢ by mass:
//
//	Vᵢ = φᵢ V    mᵢ = wᵢ m
func (a *SolventBlendAnswer) pours(b SolventBlend, m blend) error {
	if b.Amount.IsZero() {
		return nil
	}
	var c checker
	unit, allowed := quantity.Millilitre, volumeSpan
	if b.Amount.Unit.Kind() == quantity.Mass {
		unit, allowed = quantity.Gram, massSpan
	}
	amount := c.need("/amount", b.Amount, unit, allowed).Value
	a.Millilitres = amount // of a mass too: a gram is about a millilitre
	gauges := c.gauges("/instruments", b.Instruments)
	byVolume, byMass := m.fractions(m.values())
	shares, instrument := byVolume, gauges.measure
	if unit == quantity.Gram {
		shares, instrument = byMass, gauges.scale
	}
	if shares == nil {
		c.faults.Add(densityNeeded, "/amount",
			"A density is not known for every solvent: give the amount in the measure that the fractions are in.")
	}
	if err := c.faults.Err(); err != nil {
		return err
	}
	var sum float64
	for i, share := range shares {
		p := PartMeasure{Unit: unit, Exact: share * amount, Rounded: instrument.round(share * amount)}
		sum += p.Rounded
		a.Parts[i].Pour = &p
	}
	if sum == 0 {
		c.faults.Add("below-readability", "/amount",
			"The instrument shows nothing of so little: make more, or take a finer one.")
		return c.faults.Err()
	}
	for i := range a.Parts {
		p := a.Parts[i].Pour
		if p.Share = p.Rounded / sum; p.Rounded == 0 {
			a.warn("below-readability", Warn, practice, "The instrument cannot measure "+amountText(p.Exact, unit)+
				" of "+a.Parts[i].Name+": it shows zero.")
		}
	}
	a.said = func(i int) string { return instrument.say(a.Parts[i].Pour.Rounded) }
	return nil
}

// pour adds one part: by the measure, or on the scale, which is set to zero before each.
func (a *SolventBlendAnswer) pour(part int) string {
	amount, name := a.said(part), a.Parts[part].Name
	if a.Parts[part].Pour.Unit == quantity.Gram {
		return "Set the scale with the vessel on it to zero, and pour in " + name + " until it shows " + amount +
			"; close the vessel."
	}
	return "Measure " + amount + " of " + name + " and pour it in; close the vessel."
}

// steps are in working order: the slowest solvent to evaporate first, so that the
// least is lost meanwhile.
func (a *SolventBlendAnswer) steps() []string {
	const try = "Try a few millilitres in a glass first: a haze or a line means that they do not mix in this proportion."
	if a.said == nil {
		return []string{
			"Measure the parts separately, the slowest first, into a container that stands all of them; volumes are " +
				"those before mixing.",
			try,
			"Label it with every part and its fraction.",
		}
	}
	place := map[string]int{}
	var label []string
	for i, p := range a.Parts {
		place[p.Name] = i
		if p.Pour.Rounded == 0 {
			continue
		}
		by := "volume"
		if p.Pour.Unit == quantity.Gram {
			by = "mass"
		}
		label = append(label, fmt.Sprintf("%s %s %% by %s", p.Name, number(100*p.Pour.Share), by))
	}
	steps := []string{try, vesselFor(a.Millilitres, false) + " The container computation tells which."}
	for n := len(a.Evaporation) - 1; n >= 0; n-- {
		if part := place[a.Evaporation[n].Name]; a.Parts[part].Pour.Rounded > 0 {
			steps = append(steps, a.pour(part))
		}
	}
	return append(steps, capital(evenly(a.Millilitres))+"; it is ready at once if it stays clear.",
		"Label it now: "+strings.Join(label, ", ")+
			", the date, your initials, the supplies' codes and the hazards of the parts.")
}
