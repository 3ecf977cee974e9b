package calculation

import (
	"strconv"
	"strings"

	"meniscus/api"
	"meniscus/internal/quantity"
	"meniscus/internal/solution"
)

// measured reads a measured quantity: a value, or the readings that it is the average of.
func (r *reader) measured(at string, q *api.MeasuredQuantity) quantity.Quantity {
	if q == nil {
		return quantity.Quantity{}
	}
	if (q.Value == nil) == (q.Readings == nil) {
		r.Faults.Add("value-or-readings", at, "Say it in exactly one way: one value, or the readings to be averaged.")
		return quantity.Quantity{}
	}
	if q.Value != nil {
		return r.quantity(at, &api.Quantity{Value: *q.Value, Unit: q.Unit, Uncertainty: q.Uncertainty})
	}
	mean, standard, err := quantity.Mean(*q.Readings)
	if err != nil {
		_ = r.Faults.Merge(at+"/readings", err) // a number that is too large is a fault
		return quantity.Quantity{}
	}
	out := r.quantity(at, &api.Quantity{Value: mean, Unit: q.Unit, Uncertainty: q.Uncertainty})
	out.Uncertainty = out.Uncertainty.Averaged(standard)
	r.averaged = append(r.averaged, average(at[strings.LastIndex(at, "/")+1:], len(*q.Readings), out, standard))
	return out
}

// doubt is how far the scatter of few readings is from what many would show, %.
//
// Source: JCGM 100:2008 (GUM), E.4.3, table E.1 (recalled).
var doubt = map[int]string{2: "76", 3: "52"}

var averageSource = solution.Cited("gum", solution.Memory)

// average says what readings come to, and what their number leaves open.
func average(name string, n int, mean quantity.Quantity, standard float64) solution.Warning {
	unit := " " + mean.Unit.Said()
	out := solution.Warning{Code: "readings-averaged", Severity: solution.Info, Source: averageSource}
	out.Sentence = "The " + strconv.Itoa(n) + " readings of `" + name + "` average " +
		quantity.Digits(mean.Value.Float64(), 6) + unit
	switch few, isFew := doubt[n]; {
	case standard == 0:
		out.Severity = solution.Warn
		out.Sentence += ", all alike: the step of the instrument is larger than their scatter, and counts where its " +
			"readability is given."
	case isFew:
		out.Severity = solution.Warn
		out.Sentence += ", with a standard uncertainty of the average of " + quantity.Digits(standard, 2) + unit +
			". So few tell their own scatter only to about " + few + " %: take ten where it matters."
	default:
		out.Sentence += ", with a standard uncertainty of the average of " + quantity.Digits(standard, 2) + unit + "."
	}
	return out
}
