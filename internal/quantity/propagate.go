package quantity

import (
	"cmp"
	"math"
	"slices"
)

// Coverage is the factor k of every expanded uncertainty: about 95 % of a normal
// distribution. Source: JCGM 100:2008 (GUM), 6.2 and 6.3 (recalled).
const Coverage = 2

// Input is one quantity that a result depends on.
type Input struct {
	Name string // as a sentence says it: "the balance"
	Unit Unit
	Measured
}

// Contribution is one line of an uncertainty budget.
type Contribution struct {
	Name        string
	Unit        Unit    // of the input
	Value       float64 // of the input
	Standard    float64 // of the input
	Sensitivity float64 // ∂result/∂input
	// Amount is |sensitivity| × standard, in the unit of the result.
	Amount float64
	// Share is Amount² over the sum of all of them: 0 to 1.
	Share float64
}

// Outcome is a result with its uncertainty and the budget, largest first.
type Outcome struct {
	Measured
	Budget []Contribution
}

// Expanded gives k·u with k = Coverage.
func (m Measured) Expanded() float64 { return Coverage * m.Standard }

// Relative gives the expanded uncertainty as a fraction of the value, +Inf at 0.
func (m Measured) Relative() float64 {
	if m.Standard == 0 {
		return 0
	}
	return m.Expanded() / math.Abs(m.Value)
}

// Propagate evaluates one result by the law of propagation; see PropagateAll.
func Propagate(inputs []Input, f func(x []float64) float64) Outcome {
	return PropagateAll(inputs, 1, func(x, out []float64) { out[0] = f(x) })[0]
}

// PropagateAll evaluates n results y of uncorrelated inputs x by the law of
// propagation of uncertainty, to first order:
//
//	u²(y) = Σᵢ (∂y/∂xᵢ)² u²(xᵢ)
//
// Sensitivities are five-point central differences,
//
//	∂y/∂x ≈ (y(x−2h) − 8y(x−h) + 8y(x+h) − y(x+2h)) / 12h
//
// with a step h of ε^(1/5) times the size of the input, or of an eighth of its uncertainty if that is
// larger; their relative error is about 1e-11. f writes its n results to out and must not keep either
// slice. First order holds if the result is nearly linear within the uncertainties; the tests compare
// it with Monte Carlo.
//
// Source: JCGM 100:2008 (GUM), 5.1.2, equation (10) (recalled).
func PropagateAll(inputs []Input, n int, f func(x, out []float64)) []Outcome {
	x := make([]float64, len(inputs))
	for i, in := range inputs {
		x[i] = in.Value
	}
	y := make([]float64, n)
	f(x, y)
	results := make([]Outcome, n)
	lines := make([]Contribution, n*len(inputs)) // of all budgets
	for k := range results {
		results[k].Value = y[k]
		results[k].Budget = lines[k*len(inputs) : k*len(inputs) : (k+1)*len(inputs)]
	}
	slope := make([]float64, n)
	for i, in := range inputs {
		if in.Standard == 0 {
			continue
		}
		differentiate(f, x, i, step(in.Measured), y, slope)
		for k := range results {
			results[k].add(in, slope[k])
		}
	}
	for k := range results {
		results[k].close()
	}
	return results
}

// differentiate writes the sensitivities to input i into slope; y is scratch, and x
// is restored.
func differentiate(f func(x, out []float64), x []float64, i int, h float64, y, slope []float64) {
	clear(slope)
	at := x[i]
	for _, point := range [...]struct{ steps, weight float64 }{{-2, 1}, {-1, -8}, {1, 8}, {2, -1}} {
		x[i] = at + point.steps*h
		f(x, y)
		for k := range slope {
			slope[k] += point.weight * y[k] / (12 * h)
		}
	}
	x[i] = at
}

// step gives the step of the central difference: small enough for the fifth-order
// remainder, large enough for the rounding of f.
func step(m Measured) float64 {
	const fifthRoot = 7.4e-4 // of 2⁻⁵²
	return math.Max(fifthRoot*math.Abs(m.Value), m.Standard/8)
}

// add puts one line into the budget.
func (o *Outcome) add(in Input, sensitivity float64) {
	amount := math.Abs(sensitivity) * in.Standard
	o.Standard = math.Hypot(o.Standard, amount)
	o.Budget = append(o.Budget, Contribution{
		Name: in.Name, Unit: in.Unit, Value: in.Value, Standard: in.Standard,
		Sensitivity: sensitivity, Amount: amount,
	})
}

// leastShare is the smallest share of the variance that a budget lists; the
// result does not depend on inputs below it.
const leastShare = 1e-6

// dust is the relative rounding error that the differences give for a result that
// depends on no uncertain input.
const dust = 1e-12

// close gives each line of the budget its share, drops negligible lines and sorts
// the rest, largest first.
func (o *Outcome) close() {
	if o.Standard <= dust*math.Abs(o.Value) {
		o.Standard, o.Budget = 0, nil
		return
	}
	kept := o.Budget[:0]
	for _, c := range o.Budget {
		ratio := c.Amount / o.Standard
		if c.Share = ratio * ratio; c.Share >= leastShare {
			kept = append(kept, c)
		}
	}
	slices.SortStableFunc(kept, func(a, b Contribution) int { return cmp.Compare(b.Amount, a.Amount) })
	o.Budget = kept
}
