package solution

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"meniscus/internal/fault"
)

// The grams xᵢ of each product are chosen by a linear programme:
//
//	Σ (Nᵢ − t Dᵢ) xᵢ = 0     the strength t = N/D (functional.go), per gram of product
//	Σ Mᵢ xᵢ = M              the total, where one is wanted
//	0 ≤ xᵢ ≤ bᵢ              what is on hand
//
// with the objective's costs. Ethanol and water contract: their D and M are corrected
// by the contraction of the last solution until it no longer changes.

// optimise finds the grams for the target.
func (b *blending) optimise() error {
	strength, total := 1.0, 1.0 // corrections of D and M
	for range 8 {
		p := b.programme(strength, total)
		if err := b.reachable(p); err != nil {
			return err
		}
		x, err := b.best(p)
		if errors.Is(err, errNoBlend) {
			return fault.List{fault.New("amounts-too-far-apart", "/total",
				"These strengths and amounts are too far apart in size for a blend to be computed; choose amounts "+
					"that can be weighed together.")}
		}
		if err != nil {
			return fmt.Errorf("choosing a blend: %w", err)
		}
		b.grams = x
		d, m := b.contraction(p, x)
		if math.Abs(d-strength)+math.Abs(m-total) < 1e-12 {
			break
		}
		strength, total = d, m
	}
	return nil
}

// programme writes the rows of the linear programme.
func (b *blending) programme(strength, total float64) programme {
	n := len(b.products)
	p := programme{gain: make([]float64, n), n: make([]float64, n), d: make([]float64, n), m: make([]float64, n),
		upper: slices.Clone(b.onHand), t: b.t, total: -1}
	x := b.s.nominal()
	for i, product := range b.products {
		g := product.share(x)
		p.n[i], p.d[i], p.m[i] = b.s.upper(b.basis, x, g), b.s.lower(b.basis, x, g)*strength, 1
		if b.totalled && b.total.kind == finishedVolume {
			p.m[i] = b.s.poured(x, g) * total
		}
		p.gain[i] = p.n[i] - b.t*p.d[i]
	}
	if b.totalled {
		p.total = b.total.amount
	}
	p.forced = b.forced
	return p
}

// contraction gives the ratio of the volume of a blend to the sum of its parts: for
// the strength's D, and for the total's M.
func (b *blending) contraction(p programme, grams []float64) (d, m float64) {
	if !b.s.contracts() || b.basis == MassFraction {
		return 1, 1
	}
	x := b.s.nominal()
	whole := b.mix(x, grams)
	var sumD, sumM float64
	for i, product := range b.products {
		g := times(grams[i], product.share(x))
		sumD += b.s.lower(b.basis, x, g)
		sumM += b.s.poured(x, g)
	}
	d, m = b.s.lower(b.basis, x, whole)/sumD, 1
	if b.totalled && b.total.kind == finishedVolume {
		m = b.s.poured(x, whole) / sumM
	}
	return d, m
}

// mix is the mixture of the given grams of each product.
func (b *blending) mix(x, grams []float64) grams {
	g := b.s.none()
	for i, product := range b.products {
		if grams[i] > 0 {
			g = plus(g, grams[i], product.share(x))
		}
	}
	return g
}

// reachable finds the range of strengths, and refuses a target outside it.
func (b *blending) reachable(p programme) error {
	if most := p.most(); p.total > most*(1+1e-9) {
		return fault.List{fault.New("total-not-on-hand", "/total",
			"There is not that much on hand: together it comes to %s.", amountText(most, b.total.unit()))}
	}
	if p.total >= 0 && p.least() > p.total*(1+1e-9) {
		return fault.List{fault.New("total-too-small", "/total", "What is all used comes to more than the total: %s.",
			amountText(p.least(), b.total.unit()))}
	}
	low, high := p.extreme(-1), p.extreme(1)
	b.reach = b.reachOf(low.ratio, high.ratio)
	if b.t < low.ratio*(1-1e-9) || b.t > high.ratio*(1+1e-9) {
		f := fault.New("target-unreachable", "/strength",
			"These amounts on hand give from %s to %s on this basis; choose a strength between, or add a stock, a "+
				"solvent or an amount.",
			amountText(b.reach.Lowest, b.reach.Unit), amountText(b.reach.Highest, b.reach.Unit))
		f.Extra = map[string]any{"reach": *b.reach}
		return fault.List{f}
	}
	return nil
}

// reachOf says a range of ratios in the unit of the basis.
func (b *blending) reachOf(low, high float64) *Reach {
	r := Reach{Basis: b.basis, Unit: viewUnits[b.basis], Lowest: 100 * low, Highest: 100 * high}
	if b.basis == OneIn {
		r.Lowest, r.Highest = 1/high, math.Min(1/low, bounds[OneIn].span.high)
	}
	return &r
}

// best solves for the objective. At either end of the reach there is one blend.
func (b *blending) best(p programme) ([]float64, error) {
	for _, end := range []vertex{p.extreme(-1), p.extreme(1)} {
		if math.Abs(b.t-end.ratio) <= 1e-9*b.t {
			return end.x, nil
		}
	}
	if b.in.Objective == OldestFirst {
		return b.oldestFirst(p)
	}
	return p.solve(b.costs(p))
}

// costs of one gram of each product, to be minimised.
func (b *blending) costs(p programme) []float64 {
	c := make([]float64, len(b.products))
	stocks := len(b.in.Stocks)
	switch {
	case slices.Contains(b.forced, true) && p.total < 0:
		for i := range c {
			c[i] = 1 // add as little as possible to what is all used
		}
	case b.in.Objective == LeastWaste:
		for i := range stocks {
			if b.onHand[i] > 0 {
				c[i] = -1 / b.onHand[i]
			}
		}
	case p.total < 0:
		for i := range stocks {
			c[i] = -1 // use as much as possible
		}
	default:
		for i := stocks; i < len(c); i++ {
			c[i] = 1
		}
	}
	return c
}

// oldestFirst uses as much as possible of the oldest, fixes that amount, and goes on
// to the next. Stocks of unknown age come last.
func (b *blending) oldestFirst(p programme) ([]float64, error) {
	p.forced, p.upper = slices.Clone(p.forced), slices.Clone(p.upper)
	var x []float64
	for _, i := range b.byAge() {
		if p.forced[i] {
			continue
		}
		c := make([]float64, len(p.n))
		c[i] = -1
		next, err := p.solve(c)
		if err != nil {
			if x != nil {
				return x, nil // the rest is determined to within rounding
			}
			return nil, err
		}
		x = next
		p.forced[i], p.upper[i] = true, x[i]
	}
	if x == nil {
		return p.solve(b.costs(p))
	}
	return x, nil
}

// byAge gives the stocks from the oldest.
func (b *blending) byAge() []int {
	order := make([]int, len(b.in.Stocks))
	ages := make([]float64, len(order))
	for i, k := range b.in.Stocks {
		order[i] = i
		ages[i] = -1
		if days, err := k.Age.In("d"); !k.Age.IsZero() && err == nil {
			ages[i] = days
		}
	}
	slices.SortStableFunc(order, func(i, j int) int {
		switch {
		case ages[i] > ages[j]:
			return -1
		case ages[i] < ages[j]:
			return 1
		}
		return 0
	})
	return order
}
