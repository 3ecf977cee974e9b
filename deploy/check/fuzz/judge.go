package main

import (
	"errors"
	"fmt"
	"maps"
	"net/http"
	"net/http/httptest"
	"slices"
	"strconv"
	"strings"

	"github.com/getkin/kin-openapi/openapi3"

	"meniscus/api"
	"meniscus/internal/httpapi/judge"
)

// judged gives what is wrong with an answer; nil if the contract documents it.
func judged(doc *openapi3.T, r *request, a *reply) error {
	if a.status >= http.StatusInternalServerError && a.status != http.StatusServiceUnavailable {
		return fmt.Errorf("the status is %d", a.status)
	}
	if head := r.headSize(); head > mostHead+headSlack ||
		head > mostHead && a.status == http.StatusRequestHeaderFieldsTooLarge {
		return tooLong(a)
	}
	asked := r.parsed()
	if asked == nil || !known(r.method) {
		return refused(a)
	}
	if r.method == http.MethodOptions && a.status == http.StatusNoContent {
		return nil // a CORS preflight request
	}
	if r.method == http.MethodHead && (a.status == http.StatusNotFound || a.status == http.StatusMethodNotAllowed) {
		return nil // a HEAD request's problem has no body, and perhaps no operation
	}
	seen := httptest.NewRecorder()
	maps.Copy(seen.Header(), a.header)
	seen.WriteHeader(a.status)
	_, _ = seen.Body.Write(a.body)
	if err := judge.Judge(doc, asked, seen); err != nil {
		return err
	}
	if r.op == nil {
		return nil
	}
	return judgedHeaders(r.op, doc, a)
}

func known(method string) bool {
	return slices.Contains([]string{"GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS", "TRACE"}, method)
}

// mostHead is how long the contract lets a request's line and headers be. The
// server's HTTP library reads a little more before it refuses.
const (
	mostHead  = 64 << 10
	headSlack = 8 << 10
)

// tooLong checks the refusal of a request whose line and headers are too long. The
// server's HTTP library writes it before any operation is known, so that it is the same
// for all operations and has no problem document.
func tooLong(a *reply) error {
	if a.status != http.StatusRequestHeaderFieldsTooLarge {
		return fmt.Errorf("a request line and headers of more than %d bytes were answered %d", mostHead, a.status)
	}
	return nil
}

// refused checks the refusal of what is no HTTP request or has no valid method.
func refused(a *reply) error {
	if a.status < http.StatusBadRequest {
		return fmt.Errorf("what is no HTTP request was answered %d", a.status)
	}
	return nil
}

// judgedHeaders compares an answer's headers with those of its response in the
// contract: each is documented or of HTTP itself, has the documented form, and those
// that callers need are there.
func judgedHeaders(op *operation, doc *openapi3.T, a *reply) error {
	response := api.Documented(doc.Paths.Value(op.path).GetOperation(op.method), a.status)
	if response == nil {
		return errors.New("the status is not documented")
	}
	documented := response.Headers
	for name, values := range a.header {
		at := slices.IndexFunc(names(documented), func(n string) bool { return http.CanonicalHeaderKey(n) == name })
		if at < 0 {
			if !slices.Contains(ofHTTP, name) {
				return fmt.Errorf("the header %s is not documented", name)
			}
			continue
		}
		if err := judgedHeader(documented[names(documented)[at]].Value, name, values); err != nil {
			return err
		}
	}
	for _, must := range mustHave[a.status] {
		if documented[must] != nil && a.header.Get(must) == "" {
			return fmt.Errorf("the header %s is missing", must)
		}
	}
	return nil
}

func judgedHeader(h *openapi3.Header, name string, values []string) error {
	if len(values) != 1 {
		return fmt.Errorf("the header %s comes %d times", name, len(values))
	}
	var value any = values[0]
	if h.Schema.Value.Type.Is("integer") {
		n, err := strconv.ParseFloat(values[0], 64)
		if err != nil {
			return fmt.Errorf("the header %s is no number", name)
		}
		value = n
	}
	if err := h.Schema.Value.VisitJSON(value); err != nil {
		return fmt.Errorf("the header %s: %w", name, err)
	}
	return nil
}

func names(headers openapi3.Headers) []string {
	all := make([]string, 0, len(headers))
	for name := range headers {
		all = append(all, name)
	}
	slices.Sort(all)
	return all
}

// mustHave are the headers that an answer of a status must have if its response
// documents them.
var mustHave = map[int][]string{
	http.StatusCreated: {"Location", "ETag"}, http.StatusUnauthorized: {"WWW-Authenticate"},
	http.StatusTooManyRequests: {"Retry-After"}, http.StatusServiceUnavailable: {"Retry-After"},
}

// ofHTTP are headers of HTTP itself and of browsers' rules, which the contract
// does not repeat for each response.
var ofHTTP = strings.Split("Allow Cache-Control Connection Content-Disposition Content-Encoding Content-Length "+
	"Content-Security-Policy Content-Type Date Deprecation Etag "+
	"Link Preference-Applied Access-Control-Expose-Headers Referrer-Policy Ratelimit-Policy Sunset Transfer-Encoding "+
	"Vary Warning X-Accel-Buffering X-Content-Type-Options X-Frame-Options", " ")
