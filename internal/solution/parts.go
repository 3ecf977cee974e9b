package solution

import "math"

// mostPart is the largest whole number of parts that is offered.
const mostPart = 10

// WholeParts is a ratio of whole numbers.
type WholeParts struct {
	By             ShareBy
	Stock, Diluent int
	// Strength is what the ratio gives, on the basis asked (by mass for parts by mass,
	// in the finished volume for parts by volume).
	Strength View
	// Off is how far that is from the strength wanted, in per cent of it.
	Off float64
	// Exact is the diluent to one part of stock that gives the strength wanted.
	Exact float64
}

// wholeParts gives the best small whole numbers by volume (where densities are known)
// and by mass.
func (d *diluting) wholeParts() []WholeParts {
	if d.plan.alpha == 0 || d.plan.diluent() == 0 {
		return nil
	}
	x := d.s.nominal()
	byMass := func(x []float64) float64 { return d.plan.at(x).diluent() }
	byVolume := func(x []float64) float64 {
		return byMass(x) * d.s.poured(x, d.b.share(x)) / d.s.poured(x, d.a.share(x))
	}
	var all []WholeParts
	if d.s.sayable(plus(d.a.share(x), 1, d.b.share(x)), everything, byVolume) {
		all = d.offer(all, ByVolume, byVolume(x))
	}
	if d.s.tolerant && !d.s.settled(byMass) {
		return all
	}
	return d.offer(all, ByMass, byMass(x))
}

// offer adds the nearest whole numbers, unless the ratio is beyond 1 to mostPart.
func (d *diluting) offer(all []WholeParts, by ShareBy, exact float64) []WholeParts {
	const beyond = mostPart * (1 + 1e-9)
	if exact > beyond || exact < 1/beyond {
		return all
	}
	return append(all, d.nearest(by, exact))
}

// diluent is the grams of solvent to one gram of stock.
func (p plan) diluent() float64 {
	var sum float64
	for _, liquid := range p.liquids {
		sum += liquid.perGram
	}
	return sum
}

// nearest finds the whole numbers up to mostPart whose ratio is nearest to exact, in
// proportion; of equal ones the smallest.
func (d *diluting) nearest(by ShareBy, exact float64) WholeParts {
	best := WholeParts{By: by, Exact: exact}
	nearest := math.Inf(1)
	for stock := 1; stock <= mostPart; stock++ {
		for diluent := 1; diluent <= mostPart; diluent++ {
			off := math.Abs(math.Log(float64(diluent) / float64(stock) / exact))
			if off < nearest-1e-9 {
				best.Stock, best.Diluent, nearest = stock, diluent, off
			}
		}
	}
	d.judge(&best)
	return best
}

// judge evaluates the strength that whole parts give.
func (d *diluting) judge(w *WholeParts) {
	basis := d.basis
	switch basis {
	case PartsByVolume:
		basis = MassPerSolutionVolume
	case PartsByMass:
		basis = MassFraction
	}
	ratio := float64(w.Diluent) / float64(w.Stock)
	mix := func(x []float64, ratio float64) grams {
		a, b := d.a.share(x), d.b.share(x)
		if w.By == ByVolume {
			ratio *= d.s.poured(x, a) / d.s.poured(x, b)
		}
		return plus(a, ratio, b)
	}
	w.Strength = d.s.describe(func(x []float64) grams { return mix(x, ratio) }, basis).On(basis)
	wanted := d.s.describe(func(x []float64) grams { return mix(x, w.Exact) }, basis).On(basis)
	if w.Strength.Answered() && wanted.Value != 0 {
		w.Off = 100 * (w.Strength.Value/wanted.Value - 1)
	}
}
