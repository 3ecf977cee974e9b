package httpapi

import (
	"context"
	"fmt"
	"maps"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/google/uuid"

	"meniscus/internal/fault"
	"meniscus/internal/wire"
)

// sent is one parameter as the query string gives it.
type sent struct{ name, value string }

// mostParameters is how many parameters a query string may have.
const mostParameters = 1000

// readQueryString reads a query string, all of it or nothing: a dropped parameter would
// change what is asked.
func readQueryString(raw string) ([]sent, *fault.Fault) {
	var all []sent
	if strings.Count(raw, "&") >= mostParameters {
		return nil, queryFault("The query string has more than %d parameters.", mostParameters)
	}
	for part := range strings.SplitSeq(raw, "&") {
		if part == "" {
			continue
		}
		name, value, _ := strings.Cut(part, "=")
		p := sent{name, value}
		for _, text := range []*string{&p.name, &p.value} {
			var f *fault.Fault
			if *text, f = unescaped(*text, len(all)+1); f != nil {
				return nil, f
			}
		}
		all = append(all, p)
	}
	return all, nil
}

// unescaped is a name or a value of the query's nth parameter.
func unescaped(text string, n int) (string, *fault.Fault) {
	if strings.Contains(text, ";") {
		return "", queryFault(
			"Parameter number %d of the query has a semicolon: write & between parameters, and %%3B for a semicolon in a value.",
			n)
	}
	plain, err := url.QueryUnescape(text)
	if err != nil {
		return "", queryFault(
			"Parameter number %d of the query has a percent sign without its two digits; write %%25 for a percent sign.", n)
	}
	if !utf8.ValidString(plain) || strings.ContainsRune(plain, 0) {
		return "", queryFault("Parameter number %d of the query is not text in UTF-8, or holds the character U+0000.", n)
	}
	return plain, nil
}

func queryFault(format string, args ...any) *fault.Fault {
	return fault.Of(fault.Malformed, "query-malformed", format, args...)
}

// readQuery checks every query parameter against the contract; one that the operation
// does not know is refused, so that a misspelt filter is not ignored. The fault does not
// repeat its name, which may be an access key in the wrong place.
func (c *requestContext) readQuery() error {
	all, f := readQueryString(c.echo.Request().URL.RawQuery)
	if f != nil {
		return f
	}
	if c.op.anyQuery {
		return nil
	}
	var faults fault.List
	c.query = map[string]any{}
	for i, s := range all {
		p := c.op.query[s.name]
		_, before := c.query[s.name]
		switch {
		case len(faults) >= wire.MostFaults:
		case p == nil:
			faults = append(faults, &fault.Fault{Kind: fault.Malformed, Code: "parameter-unknown",
				Parameter: fmt.Sprintf("number %d", i+1),
				Detail:    "This operation has no such query parameter; it has: " + c.op.queryNames() + "."})
		case before:
			faults = append(faults, parameterFault(s.name, "Send this parameter once."))
		default:
			value, f := parseParameter(c.ctx(), p, s.value)
			if f != nil && s.value == "" {
				f.Detail = "Nothing is written for this parameter: give it a value, or leave it out."
			}
			if f != nil {
				faults = append(faults, f)
			}
			c.query[s.name] = value
		}
	}
	for _, name := range slices.Sorted(maps.Keys(c.op.query)) {
		if _, given := c.query[name]; c.op.query[name].Required && !given && len(faults) == 0 {
			faults = append(faults, parameterFault(name, "This parameter is needed: "+c.op.query[name].Description))
		}
	}
	return c.readPath(faults)
}

// readPath checks the path's variables; a value that is never valid is answered as not
// found.
func (c *requestContext) readPath(faults fault.List) error {
	for _, p := range c.op.pathVars {
		if _, f := parseParameter(c.ctx(), p, c.echo.Param(p.Name)); f != nil {
			f.Kind = fault.NotFound
			faults = append(faults, f)
		}
	}
	return faults.Err()
}

func (op *operation) queryNames() string {
	if len(op.query) == 0 {
		return "none"
	}
	return strings.Join(slices.Sorted(maps.Keys(op.query)), ", ")
}

func parameterFault(name, detail string) *fault.Fault {
	return &fault.Fault{Kind: fault.Malformed, Code: "parameter-invalid", Parameter: name, Detail: detail}
}

// parseParameter reads one parameter by its schema: an int64, a float64, a bool
// or a string.
func parseParameter(ctx context.Context, p *openapi3.Parameter, text string) (any, *fault.Fault) {
	schema := p.Schema.Value
	var value, judged any = text, text
	switch {
	case schema.Type.Is("integer"):
		n, err := strconv.ParseInt(text, 10, 64)
		if err != nil {
			return nil, parameterFault(p.Name, "Write a whole number.")
		}
		value, judged = n, float64(n)
	case schema.Type.Is("number"):
		n, err := strconv.ParseFloat(text, 64)
		if err != nil {
			return nil, parameterFault(p.Name, "Write a number.")
		}
		value, judged = n, n
	case schema.Type.Is("boolean"):
		b, err := strconv.ParseBool(text)
		if err != nil {
			return nil, parameterFault(p.Name, "Write true or false.")
		}
		value, judged = b, b
	}
	if faults := fault.From(wire.Judge(ctx, schema, judged)); len(faults) > 0 {
		return nil, parameterFault(p.Name, faults[0].Detail)
	}
	if schema.Format == "uuid" {
		if _, err := uuid.Parse(text); err != nil || len(text) != 36 {
			return nil, parameterFault(p.Name, "Write a UUID in its usual form of 36 characters.")
		}
	}
	return value, nil
}
