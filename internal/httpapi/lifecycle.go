package httpapi

import (
	"fmt"
	"net/http"
	"time"

	"github.com/getkin/kin-openapi/openapi3"
)

// lifecycle is what the contract says of an operation's end: `deprecated: true`
// with `x-deprecated-at`, and then perhaps `x-sunset` and `x-successor` (a path).
// It changes nothing in how the operation answers.
type lifecycle struct {
	deprecated time.Time // zero: it is not
	sunset     time.Time
	successor  string
}

func readLifecycle(o *openapi3.Operation) (lifecycle, error) {
	var l lifecycle
	if !o.Deprecated {
		return l, nil
	}
	var err error
	if l.deprecated, err = instantIn(o, "x-deprecated-at"); err != nil || l.deprecated.IsZero() {
		return l, fmt.Errorf("operation %s is deprecated and needs the moment in x-deprecated-at: %w", o.OperationID, err)
	}
	if l.sunset, err = instantIn(o, "x-sunset"); err != nil {
		return l, err
	}
	if !l.sunset.IsZero() && l.sunset.Before(l.deprecated) {
		return l, fmt.Errorf("operation %s ends before it is deprecated", o.OperationID)
	}
	l.successor, _ = o.Extensions["x-successor"].(string)
	return l, nil
}

// instantIn reads an extension that is a moment; none is the zero time.
func instantIn(o *openapi3.Operation, name string) (time.Time, error) {
	value, there := o.Extensions[name]
	if !there {
		return time.Time{}, nil
	}
	text, _ := value.(string)
	at, err := time.Parse(time.RFC3339, text)
	if err != nil {
		return at, fmt.Errorf("operation %s: %s is no moment in RFC 3339", o.OperationID, name)
	}
	return at, nil
}

// sayLifecycle tells callers of a deprecated operation: Deprecation (RFC 9745),
// Sunset (RFC 8594) and where to go.
func (c *requestContext) sayLifecycle(a *answer) {
	l := c.op.lifecycle
	if l.deprecated.IsZero() {
		return
	}
	a.setHeader("Deprecation", fmt.Sprintf("@%d", l.deprecated.Unix()))
	a.addHeader("Link", "<"+c.server.publicURL+`/docs>; rel="deprecation"; type="text/html"`)
	if !l.sunset.IsZero() {
		a.setHeader("Sunset", l.sunset.UTC().Format(http.TimeFormat))
	}
	if l.successor != "" {
		a.addHeader("Link", "<"+c.server.publicURL+l.successor+`>; rel="successor-version"`)
	}
}
