package calculation

import (
	"math"
	"reflect"

	"meniscus/api"
	"meniscus/internal/quantity"
	"meniscus/internal/solution"
)

// figure rounds a computed number, once, to ten significant digits: finer than any
// balance, and without the rounding errors of binary fractions.
func figure(x float64) float64 { return quantity.Significant(x, 10) }

// Digits of a number in brief that has no uncertainty: an instrument shows shown at most (220.0001 g); one with
// more is computed, and has one digit more than a sentence.
const shown, computed = 7, 5

// InBrief gives every number of an answer in brief the digits that its uncertainty bears, in place.
func InBrief(answer any) { round(reflect.ValueOf(answer), quantity.Measured{}) }

// round rounds the numbers below v; those of an object with an uncertainty, by that.
func round(v reflect.Value, by quantity.Measured) {
	switch v.Kind() {
	case reflect.Pointer:
		round(v.Elem(), by)
	case reflect.Slice:
		for i := range v.Len() {
			round(v.Index(i), by)
		}
	case reflect.Struct:
		by = quantity.Measured{}
		for i := range v.NumField() {
			field := v.Field(i)
			if !field.CanInterface() { // a time has fields of its own
				continue
			}
			if u, is := reflect.TypeAssert[*api.ComputedUncertainty](field); is && u != nil {
				u.Standard, u.Expanded = quantity.Significant(u.Standard, 2), quantity.Significant(u.Expanded, 2)
				by.Standard = u.Expanded / quantity.Coverage
			}
		}
		for i := range v.NumField() {
			if field := v.Field(i); field.CanInterface() {
				round(field, by)
			}
		}
	case reflect.Float64:
		by.Value = v.Float()
		if by.Standard > 0 {
			v.SetFloat(by.Rounded())
		} else if quantity.Significant(by.Value, shown) != by.Value {
			v.SetFloat(quantity.Significant(by.Value, computed))
		}
	}
}

// Quantity renders a number with its unit.
func Quantity(x float64, unit quantity.Unit) api.ComputedQuantity {
	return api.ComputedQuantity{Value: figure(x), Unit: string(unit)}
}

// some renders a number, or nil for 0.
func some(x float64, unit quantity.Unit) *api.ComputedQuantity {
	if x == 0 {
		return nil
	}
	return new(Quantity(x, unit))
}

// Measured renders a number with its uncertainty, where it has one.
func Measured(m quantity.Measured, unit quantity.Unit) api.ComputedQuantity {
	q := Quantity(m.Value, unit)
	q.Uncertainty = uncertaintyOf(m)
	return q
}

func uncertaintyOf(m quantity.Measured) *api.ComputedUncertainty {
	if m.Standard == 0 {
		return nil
	}
	return &api.ComputedUncertainty{Standard: figure(m.Standard), Expanded: figure(m.Expanded()), K: quantity.Coverage}
}

// sized renders a size, or why there is none.
func sized(z solution.Size, unit quantity.Unit) api.ComputedSize {
	if !z.Answered() {
		return api.ComputedSize{Unanswered: &z.Unanswered}
	}
	return api.ComputedSize{Quantity: new(Measured(z.Measured, unit))}
}

// weighed renders a mass, or nil where it is not known.
func weighed(z solution.Size) *api.ComputedQuantity {
	if !z.Answered() {
		return nil
	}
	return new(Measured(z.Measured, quantity.Gram))
}

// result renders a number with its uncertainty and what that comes from.
func (w writer) result(o quantity.Outcome, unit quantity.Unit) api.ComputedResult {
	out := api.ComputedResult{Value: figure(o.Value), Unit: string(unit), Uncertainty: uncertaintyOf(o.Measured)}
	if w.full && o.Standard > 0 {
		out.Budget, out.Range = new(each(o.Budget, budgetLine)), said(o.Sentence(unit))
	}
	return out
}

// resultOr renders a result that may not be known.
func (w writer) resultOr(o *quantity.Outcome, unit quantity.Unit) *api.ComputedResult {
	if o == nil {
		return nil
	}
	return new(w.result(*o, unit))
}

// quantityOr renders a number that may not be known.
func quantityOr(x *float64, unit quantity.Unit) *api.ComputedQuantity {
	if x == nil {
		return nil
	}
	return new(Quantity(*x, unit))
}

// assumptions renders what the caller left to the service; nil in brief.
func (w writer) assumptions(all []solution.Assumption) *api.Assumptions {
	if !w.full {
		return nil
	}
	return new(each(all, assumption))
}

func assumption(a solution.Assumption) api.Assumption {
	return api.Assumption{Name: a.Name, Value: figure(a.Value), Unit: string(a.Unit), Source: a.Source.ID}
}

func budgetLine(c quantity.Contribution) api.BudgetLine {
	return api.BudgetLine{
		Input: c.Name, Unit: string(c.Unit), Standard: figure(c.Standard), Sensitivity: figure(c.Sensitivity), Amount: figure(c.Amount),
		Share: figure(math.Min(1, c.Share)),
	}
}
