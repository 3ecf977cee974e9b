package httpapi

import (
	"strconv"
	"strings"

	"meniscus/api"
	"meniscus/internal/fault"
	"meniscus/internal/material"
	"meniscus/internal/quantity"
	"meniscus/internal/solution"
)

// asking reads the request of a computation into what the core takes. It gathers
// its own faults; the core's point into the same request.
type asking struct {
	base   *material.Base
	faults fault.List
}

// quantity reads a quantity; nothing for one that was left out.
func (a *asking) quantity(at string, q *api.Quantity) quantity.Quantity {
	if q == nil {
		return quantity.Quantity{}
	}
	unit, err := quantity.ParseUnit(q.Unit)
	if err != nil {
		_ = a.faults.Merge(at+"/unit", err)
		return quantity.Quantity{}
	}
	return quantity.Quantity{Value: q.Value, Unit: unit, Uncertainty: a.uncertainty(at+"/uncertainty", q.Uncertainty)}
}

// uncertainty reads an uncertainty, which is said in exactly one way.
func (a *asking) uncertainty(at string, u *api.Uncertainty) quantity.Uncertainty {
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
		a.faults.Add("uncertainty-one-of", at, "Say it in exactly one way: standard, halfWidth with its distribution, readability, or class (of a weighing instrument with its interval).")
		return quantity.Uncertainty{}
	}
	switch {
	case u.Standard != nil:
		return quantity.Standard(*u.Standard)
	case u.HalfWidth != nil:
		if u.Distribution == nil {
			a.faults.Add("distribution-missing", at+"/distribution", "A half-width needs its distribution: rectangular or triangular.")
			return quantity.Uncertainty{}
		}
		return quantity.HalfWidth(*u.HalfWidth, quantity.Distribution(*u.Distribution))
	case u.Readability != nil:
		return quantity.Readability(*u.Readability)
	}
	return a.class(at, u)
}

func (a *asking) class(at string, u *api.Uncertainty) quantity.Uncertainty {
	class, err := quantity.ParseClass(*u.Class)
	if err != nil {
		_ = a.faults.Merge(at+"/class", err)
		return quantity.Uncertainty{}
	}
	var interval quantity.Decimal
	if u.Interval != nil {
		interval = *u.Interval
	}
	return quantity.ByClass(class, interval)
}

// strength reads a strength, with the unit of its basis where none was given. Whether
// there is a basis is the core's to say.
func (a *asking) strength(at string, s *api.AskedStrength) solution.Strength {
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
			a.faults.Add("strength-form", at+"/parts", "On this basis the strength is a ratio of parts, such as [1, 3], and has no value.")
			return out
		}
		out.Parts = [2]quantity.Decimal{(*s.Parts)[0], (*s.Parts)[1]}
		return out
	case out.Basis == solution.OneIn:
		return a.oneIn(at, s, out)
	case s.Value == nil || s.Parts != nil || s.In != nil:
		a.faults.Add("strength-form", at+"/value", "The strength is a value; parts go with parts-by-volume and parts-by-mass, and in with one-in.")
		return out
	}
	out.Number = a.number(at, *s.Value, s, out.Basis)
	return out
}

// oneIn reads 1 g in n mL.
func (a *asking) oneIn(at string, s *api.AskedStrength, out solution.Strength) solution.Strength {
	if s.In == nil || s.Value != nil || s.Parts != nil {
		a.faults.Add("strength-form", at+"/in", "On this basis the strength is a number n, as in: 1 g in n mL.")
		return out
	}
	out.Number = a.number(at, *s.In, s, out.Basis)
	return out
}

// number reads the number of a strength with its unit.
func (a *asking) number(at string, value quantity.Decimal, s *api.AskedStrength, basis solution.Basis) quantity.Quantity {
	q := quantity.Quantity{Value: value, Unit: basis.Unit(), Uncertainty: a.uncertainty(at+"/uncertainty", s.Uncertainty)}
	if s.Unit == nil || basis == "" {
		return q
	}
	if basis == solution.UnknownBasis {
		a.faults.Add("strength-form", at+"/unit", "A strength whose basis is unknown is the number as it was written, without a unit.")
		return q
	}
	parsed, err := quantity.ParseUnit(*s.Unit)
	if err != nil {
		_ = a.faults.Merge(at+"/unit", err)
		return q
	}
	q.Unit = parsed
	return q
}

// amount reads how much is wanted.
func (a *asking) amount(at string, w api.AskedAmount) solution.Wanted {
	out := solution.Wanted{
		Finished: a.quantity(at+"/finished", w.Finished),
		Solvent:  a.quantity(at+"/solvent", w.Solvent),
		OnHand:   a.quantity(at+"/onHand", w.OnHand),
	}
	if b := w.Bottles; b != nil {
		out.Bottles = &solution.Bottles{Count: int(b.Count), Size: a.quantity(at+"/bottles/size", &b.Size), Loss: a.quantity(at+"/bottles/loss", b.Loss)}
	}
	return out
}

func (a *asking) container(at string, c *api.AskedContainer) *solution.Container {
	if c == nil {
		return nil
	}
	return &solution.Container{Capacity: a.quantity(at+"/capacity", &c.Capacity), Headspace: a.quantity(at+"/headspace", c.Headspace)}
}

func (a *asking) instruments(at string, i *api.AskedInstruments) solution.Instruments {
	if i == nil {
		return solution.Instruments{}
	}
	return solution.Instruments{Scale: a.instrument(at+"/scale", i.Scale), Measure: a.instrument(at+"/measure", i.Measure)}
}

func (a *asking) instrument(at string, i *api.AskedInstrument) solution.Instrument {
	if i == nil {
		return solution.Instrument{}
	}
	return solution.Instrument{Readability: a.quantity(at+"/readability", i.Readability), Uncertainty: a.uncertainty(at+"/uncertainty", i.Uncertainty)}
}

// asked reads the body of a computation and the knowledge that it may use.
func asked[T any](s *Server, c *call) (*asking, T, error) {
	request, err := decode[T](c)
	if err != nil {
		return nil, request, err
	}
	base, err := s.knowledge(c)
	return &asking{base: base}, request, err
}

// ownID is the id, in a computation, of a substance that the caller named.
func ownID(name string) string { return "name:" + strings.ToLower(name) }

// materialID gives the id of a material, or nil for what has none.
func materialID(id string) *string {
	if strings.ContainsAny(id, ":/@") {
		return nil
	}
	return said(id)
}

// item is the JSON Pointer to an item of a list.
func item(at string, i int) string { return at + "/" + strconv.Itoa(i) }

// text gives a text that may have been left out.
func text(s *string) string {
	if s == nil {
		return ""
	}
	return *s
}
