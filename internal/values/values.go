// Package values reads quantities, strengths, substances and solvents, as the
// contract spells them, into what the core computes with, and looks up what is
// known of the substances.
//
// It promises that each is read in one way, whether it comes with a request or
// from the record. It gathers what is wrong as faults with pointers into what it
// read; whether they matter is the caller's to say. It computes nothing.
package values

import (
	"strconv"
	"strings"

	"meniscus/api"
	"meniscus/internal/fault"
	"meniscus/internal/material"
	"meniscus/internal/quantity"
	"meniscus/internal/solution"
)

// Reader reads values and gathers its own faults; those of the core point into
// the same words.
type Reader struct {
	Base   *material.Base
	Faults fault.List
}

// Quantity reads a quantity; nothing for one that was left out.
func (r *Reader) Quantity(at string, q *api.Quantity) quantity.Quantity {
	if q == nil {
		return quantity.Quantity{}
	}
	unit, err := quantity.ParseUnit(q.Unit)
	if err != nil {
		_ = r.Faults.Merge(at+"/unit", err)
		return quantity.Quantity{}
	}
	return quantity.Quantity{Value: q.Value, Unit: unit, Uncertainty: r.Uncertainty(at+"/uncertainty", q.Uncertainty)}
}

// Uncertainty reads an uncertainty, which is said in exactly one way.
func (r *Reader) Uncertainty(at string, u *api.Uncertainty) quantity.Uncertainty {
	if u == nil {
		return quantity.Uncertainty{}
	}
	ways := 0
	for _, said := range []bool{u.Standard != nil, u.HalfWidth != nil, u.Readability != nil, u.Class != nil} {
		if said {
			ways++
		}
	}
	if ways != 1 || (u.Distribution != nil && u.HalfWidth == nil) || (u.Interval != nil && u.Class == nil) {
		r.Faults.Add("uncertainty-one-of", at, "Say it in exactly one way: standard, halfWidth with its distribution, readability, or class (of a weighing instrument with its interval).")
		return quantity.Uncertainty{}
	}
	switch {
	case u.Standard != nil:
		return quantity.Standard(*u.Standard)
	case u.HalfWidth != nil:
		if u.Distribution == nil {
			r.Faults.Add("distribution-missing", at+"/distribution", "A half-width needs its distribution: rectangular or triangular.")
			return quantity.Uncertainty{}
		}
		return quantity.HalfWidth(*u.HalfWidth, quantity.Distribution(*u.Distribution))
	case u.Readability != nil:
		return quantity.Readability(*u.Readability)
	}
	return r.class(at, u)
}

func (r *Reader) class(at string, u *api.Uncertainty) quantity.Uncertainty {
	class, err := quantity.ParseClass(*u.Class)
	if err != nil {
		_ = r.Faults.Merge(at+"/class", err)
		return quantity.Uncertainty{}
	}
	var interval quantity.Decimal
	if u.Interval != nil {
		interval = *u.Interval
	}
	return quantity.ByClass(class, interval)
}

// Strength reads a strength, with the unit of its basis where none was given. Whether
// there is a basis is the core's to say.
func (r *Reader) Strength(at string, s *api.AskedStrength) solution.Strength {
	if s == nil {
		return solution.Strength{}
	}
	var out solution.Strength
	if s.Basis != nil {
		out.Basis = solution.Basis(*s.Basis)
	}
	switch {
	case out.Basis == solution.PartsByVolume || out.Basis == solution.PartsByMass:
		if s.Parts == nil || s.Value != nil || s.In != nil {
			r.Faults.Add("strength-form", at+"/parts", "On this basis the strength is a ratio of parts, such as [1, 3], and has no value.")
			return out
		}
		out.Parts = [2]quantity.Decimal{(*s.Parts)[0], (*s.Parts)[1]}
		return out
	case out.Basis == solution.OneIn:
		return r.oneIn(at, s, out)
	case s.Value == nil || s.Parts != nil || s.In != nil:
		r.Faults.Add("strength-form", at+"/value", "The strength is a value; parts go with parts-by-volume and parts-by-mass, and in with one-in.")
		return out
	}
	out.Number = r.number(at, *s.Value, s, out.Basis)
	return out
}

// Recorded reads a strength as the record has it.
func (r *Reader) Recorded(at string, s api.Strength) solution.Strength {
	return r.Strength(at, &api.AskedStrength{Basis: &s.Basis, Value: s.Value, Unit: s.Unit, Parts: s.Parts, In: s.In, Uncertainty: s.Uncertainty})
}

// oneIn reads 1 g in n mL.
func (r *Reader) oneIn(at string, s *api.AskedStrength, out solution.Strength) solution.Strength {
	if s.In == nil || s.Value != nil || s.Parts != nil {
		r.Faults.Add("strength-form", at+"/in", "On this basis the strength is a number n, as in: 1 g in n mL.")
		return out
	}
	out.Number = r.number(at, *s.In, s, out.Basis)
	return out
}

// number reads the number of a strength with its unit.
func (r *Reader) number(at string, value quantity.Decimal, s *api.AskedStrength, basis solution.Basis) quantity.Quantity {
	q := quantity.Quantity{Value: value, Unit: basis.Unit(), Uncertainty: r.Uncertainty(at+"/uncertainty", s.Uncertainty)}
	if s.Unit == nil || basis == "" {
		return q
	}
	if basis == solution.UnknownBasis {
		r.Faults.Add("strength-form", at+"/unit", "A strength whose basis is unknown is the number as it was written, without a unit.")
		return q
	}
	parsed, err := quantity.ParseUnit(*s.Unit)
	if err != nil {
		_ = r.Faults.Merge(at+"/unit", err)
		return q
	}
	q.Unit = parsed
	return q
}

// OwnID is the id, in a computation, of a substance that the caller named.
func OwnID(name string) string { return "name:" + strings.ToLower(name) }

// item is the JSON Pointer to an item of a list.
func item(at string, i int) string { return at + "/" + strconv.Itoa(i) }

// text gives a text that may have been left out.
func text(s *string) string {
	if s == nil {
		return ""
	}
	return *s
}
