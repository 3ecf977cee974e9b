// Package fault describes a caller's mistake: its kind, where in the input it is,
// and a sentence that the caller may read.
//
// A fault never carries a value that the caller sent (it may be private) and
// never the text of an internal error. Everything that is not a fault is an
// internal error, and its text stays in the log. Use a fault only where code
// branches on it or an answer shows it; elsewhere wrap with fmt.Errorf.
package fault

import (
	"errors"
	"fmt"
	"strings"
	"time"
)

// Kind says what the caller should do about a fault. The HTTP edge gives each
// kind one status.
type Kind int

const (
	// Invalid: the request was understood and its meaning is wrong (422). Mend the input.
	Invalid Kind = iota
	// Malformed: the request could not be read (400). Mend its form.
	Malformed
	// NotFound: no such thing in this institution (404).
	NotFound
	// Conflict: the current state forbids it (409). Read again, then decide.
	Conflict
	// Stale: the record changed since it was read (412). Read again.
	Stale
	// PreconditionMissing: the operation requires If-Match (428).
	PreconditionMissing
	// Unauthenticated: no key, or one that is not known (401).
	Unauthenticated
	// Forbidden: the key lacks the scope (403).
	Forbidden
	// TooLarge: more than the service accepts in one request (413).
	TooLarge
	// Unsupported: a media type that the operation does not accept (415).
	Unsupported
	// NotAcceptable: a media type that the operation does not produce (406).
	NotAcceptable
	// Busy: the same request is in progress; try again after a moment (409 with Retry-After).
	Busy
	// MethodNotAllowed: the path does not allow this method (405). The answer's Allow lists those it does.
	MethodNotAllowed
	// Unavailable: something that the service needs is not available (503). Try again later.
	Unavailable
	// TooMany: the caller has used up its share or quota (429). Wait, then try again.
	TooMany
)

// Fault is one mistake.
type Fault struct {
	Kind Kind
	// Code is stable and machine-readable, in kebab-case: "strength-basis-missing".
	Code string
	// Pointer is an RFC 6901 JSON Pointer into the request body ("" is the whole
	// body), or empty when Parameter is set.
	Pointer string
	// Parameter names a query, path or header parameter instead.
	Parameter string
	// Detail is one sentence: what is wrong, and how to mend it.
	Detail string
	// Extra is machine-readable help that travels in the problem beside the
	// errors, such as every reading of a strength without a basis.
	Extra map[string]any
	// Wait is how long to wait before trying again, where that is known.
	Wait time.Duration
}

// Error makes a Fault an error; the text is for logs and tests.
func (f *Fault) Error() string {
	where := f.Pointer
	if f.Parameter != "" {
		where = "parameter " + f.Parameter
	}
	if where == "" {
		return fmt.Sprintf("%s: %s", f.Code, f.Detail)
	}
	return fmt.Sprintf("%s at %s: %s", f.Code, where, f.Detail)
}

// New makes an Invalid fault: the commonest.
func New(code, pointer, format string, args ...any) *Fault {
	return &Fault{Kind: Invalid, Code: code, Pointer: pointer, Detail: fmt.Sprintf(format, args...)}
}

// Of makes a fault of another kind that concerns the request as a whole.
func Of(kind Kind, code, format string, args ...any) *Fault {
	return &Fault{Kind: kind, Code: code, Detail: fmt.Sprintf(format, args...)}
}

// At gives a copy of f whose pointer is below prefix: core packages point into
// their own input, and the edge adds where that input was.
func (f *Fault) At(prefix string) *Fault {
	g := *f
	if g.Parameter == "" {
		g.Pointer = prefix + g.Pointer
	}
	return &g
}

// List is every fault of one request at once.
type List []*Fault

// Error joins the faults; the text is for logs and tests.
func (l List) Error() string {
	texts := make([]string, len(l))
	for i, f := range l {
		texts[i] = f.Error()
	}
	return strings.Join(texts, "; ")
}

// Err gives nil for an empty list: `return faults.Err()`.
func (l List) Err() error {
	if len(l) == 0 {
		return nil
	}
	return l
}

// Add appends a fault.
func (l *List) Add(code, pointer, format string, args ...any) {
	*l = append(*l, New(code, pointer, format, args...))
}

// Merge appends the faults in err below prefix, and returns an error that is not
// a fault, or nil.
func (l *List) Merge(prefix string, err error) error {
	if err == nil {
		return nil
	}
	found := From(err)
	if len(found) == 0 {
		return err
	}
	for _, f := range found {
		*l = append(*l, f.At(prefix))
	}
	return nil
}

// From gives the faults in an error's chain, or nil if it is an internal error.
func From(err error) List {
	var list List
	if errors.As(err, &list) {
		return list
	}
	var one *Fault
	if errors.As(err, &one) {
		return List{one}
	}
	return nil
}

// Is tells whether err carries a fault of this kind.
func Is(err error, kind Kind) bool {
	for _, f := range From(err) {
		if f.Kind == kind {
			return true
		}
	}
	return false
}

// Escape makes a member name fit for a JSON Pointer (RFC 6901 section 3).
func Escape(name string) string { return escaped.Replace(name) }

var escaped = strings.NewReplacer("~", "~0", "/", "~1")
