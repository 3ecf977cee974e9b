package solution

import (
	"meniscus/internal/quantity"
)

// Written is a recipe of several materials as it is written down, to be made in another amount.
type Written struct {
	Name    string            // "the mixture" where it is empty
	Parts   []Content         // masses or volumes, in the order in which they go in
	Density quantity.Quantity // measured, of what it makes, at 20 °C; may be left out
}

// ScaledPart is the amount of one material in a recipe that was scaled.
type ScaledPart struct {
	ID, Name       string
	Unit           quantity.Unit // g or mL: the measure that it is written in
	Exact, Rounded float64
	// Share is its share of the rounded amounts, in % by mass, with the uncertainty of the
	// instruments; nil where the mass of one of them is not known.
	Share *quantity.Outcome
}

// rescaling is a recipe that is being scaled.
type rescaling struct {
	*checker
	recipe Written
	units  []quantity.Unit // of each part, g or mL
	amount []float64       // of each part as written, in its unit
	wish   wish
	gauges gauges
	room   room
}

// rescale multiplies every amount of a recipe by what is wanted over what it makes:
//
//	aᵢ' = aᵢ W/T
//
// T is the mass of all, or their volume, or what the first material comes to.
func rescale(in MakeUpInput) (MakeUpAnswer, error) {
	r := rescaling{checker: &checker{}, recipe: *in.Resin.Recipe}
	const asWritten = "A recipe is scaled as it is written: leave this out, or ask for a strength of a solid, a stock or " +
		"a dispersion."
	if in.Strength.Basis != "" || !in.Strength.Number.IsZero() {
		r.faults.Add("recipe-as-written", "/strength", asWritten)
	}
	if len(in.Solvent.Shares) > 0 {
		r.faults.Add("recipe-as-written", "/solvent", asWritten)
	}
	r.read(in)
	if err := r.faults.Err(); err != nil {
		return MakeUpAnswer{}, err
	}
	total := r.total()
	if err := r.faults.Err(); err != nil {
		return MakeUpAnswer{}, err
	}
	factor := r.wish.amount / total
	a := MakeUpAnswer{Scaled: r.parts(factor)}
	volume, known := r.volume(factor)
	r.merge("", r.room.refuse(r.wish, volume))
	if err := r.faults.Err(); err != nil {
		return MakeUpAnswer{}, err
	}
	a.fills(r.room, volume, known)
	r.shares(a.Scaled)
	r.advise(&a, factor)
	return a, r.faults.Err()
}

// read reads the amounts as written, and what is wanted.
func (r *rescaling) read(in MakeUpInput) {
	for i, p := range r.recipe.Parts {
		at := "/resin/recipe/parts" + indexed(i)
		p.Component.check(at, &r.faults)
		unit, allowed := quantity.Gram, massSpan
		if p.Amount.Unit.Kind() == quantity.Volume {
			unit, allowed = quantity.Millilitre, volumeSpan
		}
		r.units = append(r.units, unit)
		r.amount = append(r.amount, r.need(at+"/amount", p.Amount, unit, allowed).Value)
	}
	r.wish = r.checker.wish("/amount", in.Amount)
	if !in.Amount.Solvent.IsZero() {
		r.faults.Add("amount-of-recipe", "/amount/solvent",
			"Say how much of a recipe is wanted as the finished amount, as bottles, or as what is on hand of its first "+
				"material.")
	}
	r.gauges = r.checker.gauges("/instruments", in.Instruments)
	r.room = r.checker.room("/container", in.Container)
}

// volume is what so many times the recipe fills, mL: by the density of what it makes, or the sum before mixing.
func (r *rescaling) volume(factor float64) (millilitres float64, known bool) {
	if grams, unknown := r.sum(quantity.Gram, len(r.amount)); !r.recipe.Density.IsZero() && unknown == nil {
		return factor * grams / r.need("/resin/recipe/density", r.recipe.Density, quantity.GramsPerML, densitySpan).Value, true
	}
	sum, unknown := r.sum(quantity.Millilitre, len(r.amount))
	return factor * sum, unknown == nil
}

// density is that of a part as it is measured, g/mL. A solid measured by volume has air between
// its grains, which its own density does not count.
func (r *rescaling) density(part int) (rho quantity.Measured, known bool) {
	c := r.recipe.Parts[part].Component
	heap := c.Phase == Solid && r.units[part] == quantity.Millilitre
	return c.Density.Measured, c.Density.Known() && !heap
}

// sum adds the parts up in a unit as they are written, before mixing; it gives the names of
// those that cannot be said in it.
func (r *rescaling) sum(unit quantity.Unit, parts int) (sum float64, unknown []string) {
	for i, amount := range r.amount[:parts] {
		rho, known := r.density(i)
		switch {
		case r.units[i] == unit:
			sum += amount
		case !known:
			unknown = append(unknown, r.recipe.Parts[i].Component.Name)
		case unit == quantity.Gram:
			sum += amount * rho.Value
		default:
			sum += amount / rho.Value
		}
	}
	return sum, unknown
}

// total is what the recipe as written comes to, in the measure of what is wanted.
func (r *rescaling) total() float64 {
	unit, parts := quantity.Gram, len(r.amount)
	switch r.wish.kind {
	case finishedVolume:
		if grams, unknown := r.sum(unit, parts); !r.recipe.Density.IsZero() && unknown == nil {
			return grams / r.need("/resin/recipe/density", r.recipe.Density, quantity.GramsPerML, densitySpan).Value
		}
		unit = quantity.Millilitre
	case onHandVolume:
		unit, parts = quantity.Millilitre, 1
	case onHandMass:
		parts = 1
	}
	sum, unknown := r.sum(unit, parts)
	if unknown != nil {
		measure := "volume"
		if unit == quantity.Gram {
			measure = "mass"
		}
		r.faults.Add(densityNeeded, r.wish.at, "The %s of %s is not known: give its density (of a solid that is measured "+
			"by volume, its mass instead), or ask for an amount in the measure that the recipe is written in.", measure,
			list(unknown))
	}
	return sum
}

// of is the instrument that measures a part.
func (r *rescaling) of(unit quantity.Unit) gauge {
	if unit == quantity.Gram {
		return r.gauges.scale
	}
	return r.gauges.measure
}

// parts gives each amount so many times what is written.
func (r *rescaling) parts(factor float64) (out []ScaledPart) {
	for i, amount := range r.amount {
		c, unit := r.recipe.Parts[i].Component, r.units[i]
		p := ScaledPart{ID: c.ID, Name: c.Name, Unit: unit, Exact: factor * amount}
		p.Rounded = r.of(unit).round(p.Exact)
		switch {
		case !massSpan.holds(p.Exact):
			r.faults.Add("out-of-range", r.wish.at, "Of %s that takes %s, and at most %s are computed: ask for less.", c.Name,
				amountText(p.Exact, unit), amountText(massSpan.high, unit))
		case p.Rounded == 0:
			r.faults.Add("below-readability", r.wish.at, "The instrument shows nothing of so little %s, which is %s: make "+
				"more, or take a finer one.", c.Name, amountText(p.Exact, unit))
		}
		out = append(out, p)
	}
	return out
}

// shares adds what each part is of the rounded amounts by mass, where all masses are known.
func (r *rescaling) shares(parts []ScaledPart) {
	var inputs []quantity.Input // the amount of each part, after that of a volume its density
	for i, p := range parts {
		measured := quantity.Measured{Value: p.Rounded, Standard: r.of(p.Unit).standard(p.Rounded, r.checker)}
		inputs = append(inputs, quantity.Input{Name: "measuring " + the(p.Name), Unit: p.Unit, Measured: measured})
		if p.Unit == quantity.Gram {
			continue
		}
		rho, known := r.density(i)
		if !known {
			return
		}
		inputs = append(inputs, quantity.Input{Name: "the density of " + p.Name, Unit: quantity.GramsPerML, Measured: rho})
	}
	out := quantity.PropagateAll(inputs, len(parts), func(x, out []float64) {
		var sum float64
		next := 0
		for i, p := range parts {
			out[i] = 100 * x[next]
			if next++; p.Unit == quantity.Millilitre {
				out[i] *= x[next]
				next++
			}
			sum += out[i] / 100
		}
		for i := range out {
			out[i] /= sum
		}
	})
	for i := range parts {
		parts[i].Share = &out[i]
	}
}
