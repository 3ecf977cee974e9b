// Package views says what is worked out of a specimen, a batch or a supply in the
// types of the contract: one function a view.
//
// It promises to work nothing out itself: a view is made of values of stack and
// stock that are handed in, its lists are as long as the contract holds, and where
// one is cut it says so. It knows nothing of HTTP and of what is stored.
package views

import (
	"github.com/google/uuid"
	openapi_types "github.com/oapi-codegen/runtime/types"

	"meniscus/api"
	"meniscus/internal/edtf"
	"meniscus/internal/quantity"
	"meniscus/internal/stack"
)

// Day is a day as the contract writes it.
func Day(d edtf.Day) api.Day { return openapi_types.Date{Time: d.Time()} }

// Bounds are the days between which something was.
func Bounds(p edtf.Period) api.DateBounds {
	var out api.DateBounds
	if !p.From.IsZero() {
		out.Earliest = new(Day(p.From))
	}
	if !p.To.IsZero() {
		out.Latest = new(Day(p.To))
	}
	return out
}

// dates are the bounds of a date, and its words where it is uncertain or
// approximate.
func dates(when edtf.Period, date edtf.Date) api.DateBounds {
	out := Bounds(when)
	if date.Qualified() {
		out.Written = new(date.String())
	}
	return out
}

// refOf refers to a record by its id, which was read from a UUID before.
func refOf(id string) api.RecordRef { return api.Ref(uuid.MustParse(id)) }

func refsOf(ids []string) []api.RecordRef { return each(ids, refOf) }

func areaNames(areas []stack.Area) []string {
	return each(areas, func(a stack.Area) string { return string(a) })
}

// degrees is a temperature, or nothing.
func degrees(x *float64) *api.Quantity { return figureIn(x, "Cel") }

// figureIn is a number with four significant digits and its unit, or nothing.
func figureIn(x *float64, unit string) *api.Quantity {
	if x == nil {
		return nil
	}
	d, err := quantity.ParseDecimal(quantity.Digits(*x, 4))
	if err != nil {
		return nil
	}
	return &api.Quantity{Value: d, Unit: unit}
}

// each renders every item of a list; an empty list stays a list.
func each[T, W any](items []T, render func(T) W) []W {
	out := make([]W, 0, len(items))
	for _, item := range items {
		out = append(out, render(item))
	}
	return out
}

// said gives a text that is not empty, or nil.
func said[T ~string](text T) *string {
	if text == "" {
		return nil
	}
	return new(string(text))
}

// deref is the value behind a pointer, or the zero value.
func deref[T any](p *T) (v T) {
	if p != nil {
		v = *p
	}
	return v
}

// listOrNone is a list that is left out when it is empty.
func listOrNone[T any](list []T) *[]T {
	if len(list) == 0 {
		return nil
	}
	return &list
}

// yes is a mark that is left out when it does not hold.
func yes(b bool) *bool {
	if !b {
		return nil
	}
	return &b
}

func count(n int) *int32 {
	if n == 0 {
		return nil
	}
	return new(int32(n))
}

// countBeyond is a count that is left out when all are listed.
func countBeyond(all, listed int) *int32 {
	if all == listed {
		return nil
	}
	return count(all)
}
