package httpapi

import (
	"encoding/json"
	"errors"

	"meniscus/api"
	"meniscus/internal/fault"
	"meniscus/internal/quantity"
	"meniscus/internal/solution"
)

// result renders a number with its uncertainty and what that comes from.
func result(o quantity.Outcome, unit quantity.Unit) api.ComputedResult {
	out := api.ComputedResult{Value: figure(o.Value), Unit: string(unit), Uncertainty: uncertaintyOf(o.Measured)}
	if o.Standard > 0 {
		lines := each(o.Budget, budgetLine)
		out.Budget, out.Range = &lines, said(o.Sentence(unit))
	}
	return out
}

// resultOr renders a result that may not be known.
func resultOr(o *quantity.Outcome, unit quantity.Unit) *api.ComputedResult {
	if o == nil {
		return nil
	}
	out := result(*o, unit)
	return &out
}

// computedOr renders a number that may not be known.
func computedOr(x *float64, unit quantity.Unit) *api.ComputedQuantity {
	if x == nil {
		return nil
	}
	out := computed(*x, unit)
	return &out
}

func assumption(a solution.Assumption) api.Assumption {
	return api.Assumption{Name: a.Name, Value: figure(a.Value), Unit: string(a.Unit), Source: cited(a.Source)}
}

// computation answers with numbers; a result that is none is the fault of what was
// asked with, and not the service's.
func computation(h handler) handler {
	return func(s *Server, c *call) (*answer, error) {
		a, err := h(s, c)
		var none *json.UnsupportedValueError
		if errors.As(err, &none) {
			return nil, fault.New("result-not-finite", "", "With these numbers the result is too large or too small to be a number; check their units and powers of ten.")
		}
		return a, err
	}
}

// below points the faults of a core's question at where it stands in the request.
func below(prefix string, err error) error {
	var list fault.List
	if internal := list.Merge(prefix, err); internal != nil {
		return internal
	}
	return list.Err()
}
