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
	for i := range a.Parts {
		if p := a.Parts[i].Pour; sum > 0 {
			p.Share = p.Rounded / sum
		}
		if p := a.Parts[i].Pour; p.Rounded == 0 {
			a.warn("below-readability", Warn, practice, "The instrument cannot measure "+amountText(p.Exact, unit)+
				" of "+a.Parts[i].Name+": it shows zero.")
		}
	}
	a.said = func(i int) string { return instrument.say(a.Parts[i].Pour.Rounded) }
	return nil
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
		by := "volume"
		if p.Pour.Unit == quantity.Gram {
			by = "mass"
		}
		label = append(label, fmt.Sprintf("%s %s %% by %s", p.Name, number(100*p.Pour.Share), by))
	}
	steps := []string{try,
		"Take a clean bottle with a lid that stands all of them; check it with the container computation."}
	for n := len(a.Evaporation) - 1; n >= 0; n-- {
		name := a.Evaporation[n].Name
		steps = append(steps, "Measure "+a.said(place[name])+" of "+name+" and pour it in; close the bottle.")
	}
	return append(steps, "Turn it over until it is even; it is ready at once if it stays clear.",
		"Label it now: "+strings.Join(label, ", ")+
			", the date, your initials, the supplies' codes and the hazards of the parts.")
}
