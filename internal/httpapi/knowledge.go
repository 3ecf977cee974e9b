package httpapi

import (
	"encoding/base64"
	"slices"
	"strings"

	"meniscus/api"
	"meniscus/internal/access"
	"meniscus/internal/material"
	"meniscus/internal/quantity"
)

// knowledge is what the caller may know of materials: the built-in base, and
// over it the institution's own materials when a key that may read was sent.
func (s *Server) knowledge(c *requestContext) (*material.Base, error) {
	if c.principal == nil || !c.principal.May(access.Read) {
		return material.Builtin(), nil
	}
	return s.library.Of(c.ctx(), c.principal.Institution)
}

// shared lets caches share an answer to callers without a key, which is the same for all
// of them.
func (c *requestContext) shared(a *answer, err error) (*answer, error) {
	if err == nil {
		a.vary("Authorization")
		if c.principal == nil {
			a.setHeader("Cache-Control", "public, max-age=300")
		}
	}
	return a, err
}

// textPage cuts a page out of a list that is ordered by a text: what stands
// after the cursor, at most limit items, and the cursor of the next page.
func textPage[T any](c *requestContext, all []T, key func(T) string) ([]T, *api.Next, error) {
	if text := c.text("cursor"); text != "" {
		after, err := base64.RawURLEncoding.DecodeString(text)
		if err != nil {
			return nil, nil, invalidCursor
		}
		begin, _ := slices.BinarySearchFunc(all, string(after)+"\x00", func(x T, k string) int {
			return strings.Compare(key(x), k)
		})
		all = all[begin:]
	}
	limit := c.number("limit")
	if len(all) <= limit {
		return all, nil, nil
	}
	all = all[:limit]
	n := c.next(base64.RawURLEncoding.EncodeToString([]byte(key(all[limit-1]))))
	return all, &api.Next{Cursor: n.cursor, Href: n.href}, nil
}

// linked adds the Link header of a page.
func linked(a *answer, err error, next *api.Next) (*answer, error) {
	if err == nil && next != nil {
		a.setHeader("Link", "<"+next.Href+`>; rel="next"`)
	}
	return a, err
}

// said gives a text that is not empty, or nil.
func said[T ~string](text T) *string {
	if text == "" {
		return nil
	}
	s := string(text)
	return &s
}

// each renders every item of a list; an empty list stays a list.
func each[T, W any](items []T, render func(T) W) []W {
	out := make([]W, 0, len(items))
	for _, item := range items {
		out = append(out, render(item))
	}
	return out
}

func attribution(e material.Evidence) api.Attribution {
	a := api.Attribution{Citation: e.Source.Citation, Status: api.ValueStatus(e.Status)}
	if len(e.Also) > 0 {
		also := each(e.Also, func(s material.Source) string { return s.Citation })
		a.Also = &also
	}
	return a
}

// statedValue renders a value as the contract says values: a figure, a range, a
// bound, words, or none.
func statedValue(v material.Value, unit string) api.StatedValue {
	out := api.StatedValue{Unit: said(unit)}
	switch {
	case v.None:
		none := true
		out.None = &none
	case !v.Numeric:
		out.Words = said(v.Written)
	default:
		out.Value, out.Low, out.High = figures(v.Written)
	}
	return out
}

// figures gives the decimals of a written number with their digits.
func figures(written string) (value, low, high *quantity.Decimal) {
	if l, h, ok := strings.Cut(written, ".."); ok {
		return nil, decimal(l), decimal(h)
	}
	switch written[0] {
	case '>':
		return nil, decimal(written[1:]), nil
	case '<':
		return nil, nil, decimal(written[1:])
	}
	return decimal(written), nil, nil
}

// decimal reads a number that the tables have checked.
func decimal(text string) *quantity.Decimal {
	d, err := quantity.ParseDecimal(strings.TrimPrefix(text, "="))
	if err != nil {
		return nil
	}
	return &d
}

// deref is the value behind a pointer, or the zero value.
func deref[T any](p *T) T {
	if p == nil {
		var zero T
		return zero
	}
	return *p
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
