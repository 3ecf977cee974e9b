package solution

import (
	"math"

	"meniscus/internal/quantity"
)

// advise says the recipe in the amount wanted, the steps, and what goes with it.
func (r *rescaling) advise(a *MakeUpAnswer, factor float64) {
	var amounts, shares []string
	for _, p := range a.Scaled {
		amounts = append(amounts, r.of(p.Unit).say(p.Rounded)+" of "+p.Name)
		if p.Share != nil {
			shares = append(shares, p.Share.Said()+" % of "+p.Name)
		}
	}
	a.Answer = firstOf(amounts) + ", " + number(factor) + " times the recipe: "
	if shares == nil {
		_, unknown := r.sum(quantity.Gram, len(r.amount))
		a.Answer += "the shares by mass are not known, as that of " + firstOf(unknown) + " is not."
	} else {
		a.Answer += firstOf(shares) + " by mass."
	}
	system, volume := newSystem(20), Size{Unanswered: "a density is not known"}
	for i, p := range r.recipe.Parts {
		system.add(p.Component, p.Component.Phase == Solid)
		if r.units[i] == quantity.Millilitre || r.wish.kind == finishedVolume {
			a.cite(p.Component.Density.Source)
		}
	}
	if sum, unknown := r.sum(quantity.Millilitre, len(r.amount)); unknown == nil {
		volume = Size{Outcome: quantity.Outcome{Measured: quantity.Exactly(factor * sum)}}
	}
	a.Steps = r.steps(a.Scaled, volume.Value, amounts)
	r.warn(a)
	all := system.none()
	for i := range all {
		all[i] = 1
	}
	if said := system.unmixable(all, all); said != "" {
		a.warn("do-not-mix", Warn, practice, said+": as the recipe is written they stand as two layers.")
	}
	a.warnPartly(system, all)
	a.careful(system, volume)
	a.cite(practice)
}

// steps are in the order of the recipe.
func (r *rescaling) steps(parts []ScaledPart, volume float64, amounts []string) []string {
	steps := []string{vesselFor(volume, false)}
	for i, p := range parts {
		if p.Unit == quantity.Gram {
			steps = append(steps, "Set the scale with the vessel on it to zero, and weigh in "+amounts[i]+".")
		} else {
			steps = append(steps, "Measure "+amounts[i]+" and add it.")
		}
	}
	name := ""
	if r.recipe.Name != "" {
		name = r.recipe.Name + ", "
	}
	return append(steps, "Mix it as the recipe says, until it is even.", "Label it now: "+name+list(amounts)+
		", the date, your initials, the supplies' codes and the hazards of the parts.")
}

// warn says where rounding changes the recipe, and what a total by volume counts.
func (r *rescaling) warn(a *MakeUpAnswer) {
	for _, p := range a.Scaled {
		if off := 100 * math.Abs(p.Rounded/p.Exact-1); off > ratioOff {
			a.Advice.warn("part-off", Warn, practice, "As rounded, "+the(p.Name)+" is "+rough(off)+
				" % off the recipe: make more at once, or take a finer instrument.")
		}
	}
	if r.wish.kind == finishedVolume && r.recipe.Density.IsZero() {
		a.Advice.warn("volumes-before-mixing", Info, practice, "The amount wanted is taken as the sum of the volumes before "+
			"mixing; mixed, it may be a little less.")
	}
}
