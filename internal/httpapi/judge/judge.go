// Package judge holds every answer of a test against the contract: its status,
// its media type and its body must be documented. Only tests import it.
package judge

import (
	"bytes"
	"compress/gzip"
	"encoding/json"
	"fmt"
	"io"
	"maps"
	"mime"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"testing"

	"github.com/getkin/kin-openapi/openapi3"

	"meniscus/api"
)

// Handler wraps a handler: answers that the contract does not document fail t.
func Handler(t testing.TB, next http.Handler) http.Handler {
	t.Helper()
	doc, err := api.Document()
	if err != nil {
		t.Fatal(err)
	}
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if accepts := r.Header.Get("Accept"); accepts == "text/event-stream" {
			next.ServeHTTP(&streaming{ResponseWriter: w, t: t, doc: doc, request: r}, r)
			return
		}
		seen := httptest.NewRecorder()
		next.ServeHTTP(seen, r)
		if err := Judge(doc, r, seen); err != nil {
			t.Errorf("%s %s answered %d outside the contract: %v\n%s",
				r.Method, r.URL.Path, seen.Code, err, clip(seen.Body.Bytes()))
		}
		if err := judgeType(next, seen); err != nil && r.Method != http.MethodHead {
			t.Errorf("%s %s answered %d: %v", r.Method, r.URL.Path, seen.Code, err)
		}
		for name, values := range seen.Header() {
			w.Header()[name] = values
		}
		w.WriteHeader(seen.Code)
		_, _ = w.Write(seen.Body.Bytes())
	})
}

// judgeType checks that every problem has the type of its code, and that its code has a
// page.
func judgeType(next http.Handler, seen *httptest.ResponseRecorder) error {
	if !strings.HasPrefix(seen.Header().Get("Content-Type"), "application/problem+json") {
		return nil
	}
	body, err := plain(seen)
	if err != nil {
		return err
	}
	var problem struct{ Type, Code string }
	if err := json.Unmarshal(body, &problem); err != nil {
		return fmt.Errorf("reading a problem: %w", err)
	}
	page := httptest.NewRecorder()
	if !strings.HasSuffix(problem.Type, "problem/"+problem.Code) {
		return fmt.Errorf("the problem's type %s is not that of its code %s", problem.Type, problem.Code)
	}
	next.ServeHTTP(page, httptest.NewRequest(http.MethodGet, "/problems/"+problem.Code, nil))
	if page.Code != http.StatusOK && page.Code != http.StatusServiceUnavailable { // 503: full, and the page exists
		return fmt.Errorf("the problem's code %s has no page", problem.Code)
	}
	return nil
}

// streaming passes an endless answer on as it comes; its status and media type
// are judged, its events are the test's to read.
type streaming struct {
	http.ResponseWriter
	t       testing.TB
	doc     *openapi3.T
	request *http.Request
}

func (s *streaming) WriteHeader(code int) {
	mediaType := s.Header().Get("Content-Type")
	op := operationFor(s.doc, s.request.Method, s.request.URL.EscapedPath())
	if documented := api.Documented(op, code); documented == nil || documented.Content[mediaType] == nil {
		s.t.Errorf("%s answered %d with %q outside the contract", op.OperationID, code, mediaType)
	}
	s.ResponseWriter.WriteHeader(code)
}

// Unwrap lets the answer be flushed.
func (s *streaming) Unwrap() http.ResponseWriter { return s.ResponseWriter }

// Judge compares one answer with what the contract documents for its request.
func Judge(doc *openapi3.T, r *http.Request, seen *httptest.ResponseRecorder) error {
	op := operationFor(doc, r.Method, r.URL.EscapedPath())
	if op == nil {
		return judgeUnrouted(doc, seen)
	}
	documented := api.Documented(op, seen.Code)
	if documented == nil {
		return fmt.Errorf("the status is not documented for %s", op.OperationID)
	}
	if seen.Body.Len() == 0 {
		return nil
	}
	mediaType, _, err := mime.ParseMediaType(seen.Header().Get("Content-Type"))
	if err != nil {
		return fmt.Errorf("the content type %q cannot be read", seen.Header().Get("Content-Type"))
	}
	content := documented.Content[mediaType]
	if content == nil && mediaType == "text/html" && forSessions(op) {
		return nil // a problem for a person
	}
	if content == nil {
		return fmt.Errorf("the media type %s is not documented for %s %d", mediaType, op.OperationID, seen.Code)
	}
	if content.Schema == nil {
		return nil
	}
	body, err := plain(seen)
	if err != nil {
		return err
	}
	switch {
	case mediaType == "text/plain":
		return content.Schema.Value.VisitJSON(string(body))
	case mediaType != "application/json" && !strings.HasSuffix(mediaType, "+json"):
		return nil
	case op.Parameters.GetByInAndName("query", "detail") != nil && r.URL.Query().Get("detail") != "full":
		if err := judgeBrief(content.Schema, body); err != nil {
			return err
		}
	}
	if mediaType == "application/problem+json" {
		if err := judgeCodes(doc, op, seen.Code, body); err != nil {
			return err
		}
	}
	return judgeBody(content.Schema.Value, body)
}

// forSessions tells an operation that a session opens: its pages' problems are pages.
func forSessions(op *openapi3.Operation) bool {
	return op.Security != nil && slices.ContainsFunc(*op.Security, func(r openapi3.SecurityRequirement) bool {
		_, session := r["session"]
		return session
	})
}

// judgeCodes is an error if a problem has a code that the contract does not list for its
// operation: its own with its status, those of its errors with any.
func judgeCodes(doc *openapi3.T, op *openapi3.Operation, status int, body []byte) error {
	var problem struct {
		Code   string
		Errors []struct{ Code string }
	}
	if err := json.Unmarshal(body, &problem); err != nil {
		return fmt.Errorf("reading a problem: %w", err)
	}
	codes := api.Codes(doc, op)
	if !slices.Contains(codes[status], problem.Code) {
		return fmt.Errorf("the code %s is not listed for %s %d", problem.Code, op.OperationID, status)
	}
	for _, e := range problem.Errors {
		if !slices.ContainsFunc(slices.Collect(maps.Values(codes)), func(of []string) bool { return slices.Contains(of, e.Code) }) {
			return fmt.Errorf("the code %s is not listed for %s", e.Code, op.OperationID)
		}
	}
	return nil
}

// plain is an answer's body without its coding.
func plain(seen *httptest.ResponseRecorder) ([]byte, error) {
	if seen.Header().Get("Content-Encoding") != "gzip" {
		return seen.Body.Bytes(), nil
	}
	z, err := gzip.NewReader(bytes.NewReader(seen.Body.Bytes()))
	if err != nil {
		return nil, fmt.Errorf("the body is not what its Content-Encoding says: %w", err)
	}
	return io.ReadAll(z)
}

// judgeUnrouted judges the answer to a path or method that is in no operation:
// a problem, and nothing else.
func judgeUnrouted(doc *openapi3.T, seen *httptest.ResponseRecorder) error {
	if seen.Body.Len() == 0 || seen.Code != http.StatusNotFound && seen.Code != http.StatusMethodNotAllowed {
		return nil // a page that is not in the contract
	}
	return judgeBody(doc.Components.Schemas["Problem"].Value, seen.Body.Bytes())
}

func judgeBody(schema *openapi3.Schema, body []byte) error {
	var value any
	if err := json.NewDecoder(bytes.NewReader(body)).Decode(&value); err != nil {
		return fmt.Errorf("the body is not JSON: %w", err)
	}
	return schema.VisitJSON(value, openapi3.VisitAsResponse())
}

// operationFor finds the operation that a path belongs to.
func operationFor(doc *openapi3.T, method, path string) *openapi3.Operation {
	if method == http.MethodHead {
		method = http.MethodGet
	}
	var found *openapi3.Operation
	for template, item := range doc.Paths.Map() {
		if op := item.GetOperation(method); op != nil && matches(template, path) &&
			(found == nil || !strings.Contains(template, "{")) {
			found = op
		}
	}
	return found
}

// matches tells whether a path is one of a template; a parameter takes what is not empty.
func matches(template, path string) bool {
	want, got := strings.Split(template, "/"), strings.Split(path, "/")
	if len(want) != len(got) {
		return false
	}
	for i := range want {
		if want[i] != got[i] && (got[i] == "" || !strings.HasPrefix(want[i], "{")) {
			return false
		}
	}
	return true
}

func clip(b []byte) string { return string(b[:min(len(b), 2000)]) }
