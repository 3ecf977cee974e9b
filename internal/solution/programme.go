package solution

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/optimize/convex/lp"
)

// programme is the linear programme of a blend; see blend_choose.go for the rows. All
// coefficients are per gram of product.
type programme struct {
	gain, n, d, m []float64
	upper         []float64 // below 0: no limit
	forced        []bool    // exactly its upper is used
	t             float64
	total         float64 // below 0: none is wanted
}

// vertex is one blend with its ratio.
type vertex struct {
	x     []float64
	ratio float64
}

// most is the largest total that is on hand.
func (p programme) most() float64 {
	var sum float64
	for i, b := range p.upper {
		if b < 0 {
			return math.Inf(1)
		}
		sum += b * p.m[i]
	}
	return sum
}

// least is the total of the stocks that are all used.
func (p programme) least() float64 {
	var sum float64
	for i, b := range p.upper {
		if p.forced[i] {
			sum += b * p.m[i]
		}
	}
	return sum
}

// extreme gives the blend of the highest (sign +1) or lowest (sign −1) ratio N/D, by
// Dinkelbach's method: the blend that maximises N − λD is found for the λ of the last
// one, until λ stays the same. Each step is a fractional knapsack: the products are
// taken in the order of what each adds for its share of the total.
func (p programme) extreme(sign float64) vertex {
	v := vertex{ratio: p.firstRatio()}
	for range 60 {
		x := p.greedy(sign, v.ratio)
		var n, d float64
		for i := range x {
			n += p.n[i] * x[i]
			d += p.d[i] * x[i]
		}
		if v.x != nil && math.Abs(n/d-v.ratio) <= 1e-14*math.Abs(v.ratio) {
			break
		}
		v = vertex{x, n / d}
		if d == 0 {
			v.ratio = 0
			break
		}
	}
	return v
}

// firstRatio is a ratio to start from: that of everything in equal amounts.
func (p programme) firstRatio() float64 {
	var n, d float64
	for i := range p.n {
		n += p.n[i]
		d += p.d[i]
	}
	return n / d
}

// greedy maximises sign·Σ (N − λD) x within the bounds and the total.
func (p programme) greedy(sign, lambda float64) []float64 {
	x := make([]float64, len(p.n))
	left := p.total
	for i, forced := range p.forced {
		if forced {
			x[i] = p.upper[i]
			left -= x[i] * p.m[i]
		}
	}
	worth := func(i int) float64 { return sign * (p.n[i] - lambda*p.d[i]) / p.m[i] }
	order := make([]int, 0, len(x))
	for i, forced := range p.forced {
		if !forced {
			order = append(order, i)
		}
	}
	slices.SortStableFunc(order, func(i, j int) int {
		switch {
		case worth(i) > worth(j):
			return -1
		case worth(i) < worth(j):
			return 1
		}
		return 0
	})
	for n, i := range order {
		if p.total < 0 {
			x[i] = p.free(i, n, worth(i))
			continue
		}
		take := math.Max(0, left) / p.m[i]
		if p.upper[i] >= 0 {
			take = math.Min(take, p.upper[i])
		}
		x[i] = take
		left -= take * p.m[i]
	}
	return x
}

// free is the amount taken where no total limits it: all that is on hand of a
// product that helps; if that is not limited, enough to outweigh everything else.
func (p programme) free(i, rank int, worth float64) float64 {
	if worth <= 0 && (rank > 0 || slices.Contains(p.forced, true)) {
		return 0
	}
	if p.upper[i] >= 0 {
		return p.upper[i]
	}
	return 1e12
}

// errNoBlend: the solver found no blend although one should exist.
var errNoBlend = errors.New("the linear programme was not solved")

// solve minimises the costs.
func (p programme) solve(costs []float64) ([]float64, error) {
	f := p.form(costs)
	if len(f.free) == 0 {
		return f.x, nil
	}
	if len(f.rows) == 0 || len(f.rows) > len(f.costs) {
		return nil, errNoBlend
	}
	a := mat.NewDense(len(f.rows), len(f.costs), nil)
	for i, row := range f.rows {
		a.SetRow(i, row)
	}
	z, err := simplex(f.costs, a, f.right)
	if err != nil {
		return nil, fmt.Errorf("%w: %w", errNoBlend, err)
	}
	for n, i := range f.free {
		f.x[i] = math.Max(0, z[n]*f.scale)
		if p.upper[i] >= 0 {
			f.x[i] = math.Min(f.x[i], p.upper[i])
		}
		if f.x[i] < 1e-9*f.scale {
			f.x[i] = 0
		}
	}
	return f.x, nil
}

// simplex calls the library, and turns its panic over numbers too far apart into an error.
func simplex(costs []float64, rows mat.Matrix, right []float64) (z []float64, err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("simplex: %v", p)
		}
	}()
	_, z, err = lp.Simplex(costs, rows, right, 1e-12, nil)
	return z, err
}

// limits tells whether a product may run out before the total is reached. A limit
// far above the total would only harm the solver's precision.
func (p programme) limits(i int, total float64) bool {
	return p.upper[i] >= 0 && (p.total < 0 || p.upper[i]*p.m[i] < total)
}

// form is a programme in the solver's standard form: rows·z = right, z ≥ 0. The
// variables are the free products, in units of scale, and a slack for each limit.
type form struct {
	free  []int // products that are not all used
	x     []float64
	scale float64
	rows  [][]float64
	right []float64
	costs []float64
}

// form takes out the products that are all used, adds slacks, and scales the rows to size one.
func (p programme) form(costs []float64) form {
	f := form{x: make([]float64, len(p.n))}
	var gain, total float64 // of the products that are all used
	slacks := 0
	for i, forced := range p.forced {
		if forced {
			f.x[i] = p.upper[i]
			gain += p.gain[i] * f.x[i]
			total += p.m[i] * f.x[i]
			continue
		}
		f.free = append(f.free, i)
	}
	for _, i := range f.free {
		if p.limits(i, p.total-total) {
			slacks++
		}
	}
	f.scale = p.scale()
	width := len(f.free) + slacks
	f.costs = make([]float64, width)
	for n, i := range f.free {
		f.costs[n] = costs[i]
	}
	f.costs = unit(f.costs)
	f.addRow(p.gain, -gain/f.scale, width)
	if p.total >= 0 {
		f.addRow(p.m, (p.total-total)/f.scale, width)
	}
	slack := len(f.free)
	for n, i := range f.free {
		if p.limits(i, p.total-total) {
			row := make([]float64, width)
			row[n], row[slack] = 1, 1
			slack++
			f.rows, f.right = append(f.rows, row), append(f.right, p.upper[i]/f.scale)
		}
	}
	return f
}

// addRow adds an equation over the free products, scaled to size one; an equation
// without coefficients is left out.
func (f *form) addRow(coefficients []float64, right float64, width int) {
	row := make([]float64, width)
	var most float64
	for n, i := range f.free {
		row[n] = coefficients[i]
		most = math.Max(most, math.Abs(row[n]))
	}
	if most < 1e-15 {
		return
	}
	for n := range row {
		row[n] /= most
	}
	f.rows, f.right = append(f.rows, row), append(f.right, right/most)
}

// unit scales costs to size one.
func unit(c []float64) []float64 {
	most := 0.0
	for _, x := range c {
		most = math.Max(most, math.Abs(x))
	}
	if most > 0 {
		for i := range c {
			c[i] /= most
		}
	}
	return c
}

// scale is the order of magnitude of the amounts.
func (p programme) scale() float64 {
	if p.total > 0 {
		return p.total
	}
	most := 1e-9
	for _, b := range p.upper {
		most = math.Max(most, b)
	}
	return most
}
