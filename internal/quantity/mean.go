package quantity

import "math"

// Mean gives the average of readings of one quantity, and the standard uncertainty of that
// average from their scatter, both in the unit of the readings. There are at least two.
//
//	q̄ = Σ qₖ/n    s² = Σ (qₖ − q̄)²/(n − 1)    u(q̄) = s/√n
//
// Source: JCGM 100:2008 (GUM), 4.2.1 to 4.2.3 (recalled).
func Mean(readings []Decimal) (mean Decimal, standard float64, err error) {
	n := float64(len(readings))
	// Differences from the first reading keep the digits of readings that are nearly alike.
	first, sum := readings[0].Float64(), 0.0
	for _, r := range readings {
		sum += r.Float64() - first
	}
	shift := sum / n
	var squares float64
	for _, r := range readings {
		d := r.Float64() - first - shift
		squares += d * d
	}
	mean, err = OfFloat(Significant(first+shift, 12))
	return mean, math.Sqrt(squares / (n - 1) / n), err
}

// Averaged adds the standard uncertainty of an average to what is said of the instrument:
//
//	u² = u²(q̄) + u²(instrument)
//
// Source: JCGM 100:2008 (GUM), 4.3.10 and 5.1.2 (recalled).
func (u Uncertainty) Averaged(standard float64) Uncertainty {
	u.scatter = standard
	return u
}
