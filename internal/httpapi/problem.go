package httpapi

import (
	"encoding/json"
	"fmt"
	"math"
	"net/http"
	"slices"
	"strconv"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/fault"
	"meniscus/internal/postgres"
)

// statuses gives each kind of fault its status and the problem's name and title.
var statuses = map[fault.Kind]struct {
	status int
	slug   string
	title  string
}{
	fault.Invalid:             {http.StatusUnprocessableEntity, "validation", "The request was read, and its meaning is wrong"},
	fault.Malformed:           {http.StatusBadRequest, "malformed-request", "The request could not be read"},
	fault.NotFound:            {http.StatusNotFound, "not-found", "There is no such thing here"},
	fault.Conflict:            {http.StatusConflict, "conflict", "The state of things forbids it"},
	fault.Stale:               {http.StatusPreconditionFailed, "record-changed", "The record is not as If-Match says"},
	fault.PreconditionMissing: {http.StatusPreconditionRequired, "if-match-missing", "The record's ETag is needed"},
	fault.Unauthenticated:     {http.StatusUnauthorized, "access-key", "A known access key is needed"},
	fault.Forbidden:           {http.StatusForbidden, "scope-missing", "The access key does not open this"},
	fault.TooLarge:            {http.StatusRequestEntityTooLarge, "body-too-large", "The body is too large"},
	fault.Unsupported:         {http.StatusUnsupportedMediaType, "media-type-not-taken", "The body's media type is not taken here"},
	fault.NotAcceptable:       {http.StatusNotAcceptable, "media-type-not-given", "None of the accepted media types is given here"},
	fault.MethodNotAllowed:    {http.StatusMethodNotAllowed, "method-not-allowed", "This path does not take this method"},
	fault.Busy:                {http.StatusConflict, "request-at-work", "The same request is being worked on"},
	fault.Unavailable:         {http.StatusServiceUnavailable, "unavailable", "Something that the service needs cannot be reached"},
	fault.TooMany:             {http.StatusTooManyRequests, "too-many-requests", "This is more than the caller's share"},
}

// problem renders any error (RFC 9457). What is not a fault is an internal
// error: its text stays in the log, and the caller gets the request's id.
func (s *Server) problem(requestID uuid.UUID, err error) *answer {
	faults := fault.From(err)
	p := map[string]any{"instance": "urn:uuid:" + requestID.String()}
	a := &answer{mediaType: "application/problem+json", noStore: true}
	if len(faults) == 0 {
		a.status = http.StatusInternalServerError
		p["type"], p["code"], p["title"] = problemType("internal"), "internal", "A fault of the service"
		p["detail"] = "It is in the service's log under this problem's instance; sending the request again may help."
	} else {
		s.describe(faults, a, p)
	}
	p["status"] = a.status
	a.body, _ = json.Marshal(p) // a map of plain values cannot fail to encode
	return a
}

// describe renders faults: the first one's kind decides the status.
func (s *Server) describe(faults fault.List, a *answer, p map[string]any) {
	first := faults[0]
	known := statuses[first.Kind]
	a.status = known.status
	slug := known.slug
	if len(faults) == 1 && first.Pointer == "" && first.Parameter == "" || first.Extra != nil {
		slug = first.Code
	}
	p["type"], p["code"], p["title"] = problemType(slug), slug, titleOf(slug, faults)
	p["detail"] = first.Detail
	if len(faults) > 1 {
		p["detail"] = fmt.Sprintf("%d faults; see errors. The first: %s", len(faults), first.Detail)
	}
	p["errors"] = s.errorsOf(faults)
	for _, f := range slices.Backward(faults) { // the first fault's members replace those of the others
		for name, value := range f.Extra {
			p[name] = s.told(value)
		}
	}
	if first.Kind == fault.Unauthenticated {
		a.setHeader("WWW-Authenticate", challenge(first.Code))
	}
	if first.Kind == fault.Forbidden {
		a.setHeader("WWW-Authenticate", `Bearer realm="meniscus", error="insufficient_scope"`)
	}
	if first.Kind == fault.Busy || first.Kind == fault.Unavailable || first.Kind == fault.TooMany {
		a.setHeader("Retry-After", strconv.Itoa(max(1, int(math.Ceil(first.Wait.Seconds())))))
	}
}

// told is an extra member of a problem; specimens get their addresses too.
func (s *Server) told(extra any) any {
	if specimens, found := extra.([]postgres.Numbered); found {
		return each(specimens, s.candidate)
	}
	return extra
}

// challenge is RFC 6750's: no error code when there were no credentials.
func challenge(code string) string {
	if code == "access-key-missing" {
		return `Bearer realm="meniscus"`
	}
	return `Bearer realm="meniscus", error="invalid_token"`
}

func (s *Server) errorsOf(faults fault.List) []map[string]any {
	list := make([]map[string]any, 0, len(faults))
	for _, f := range faults {
		e := map[string]any{"code": f.Code, "detail": f.Detail}
		switch {
		case f.Parameter != "":
			e["parameter"] = f.Parameter
		case f.Pointer != "" || f.Kind == fault.Invalid: // of the body, or all of it
			e["pointer"] = f.Pointer
		}
		if candidates, asked := s.told(f.Extra["candidates"]).([]api.NumberCandidate); asked {
			e["candidates"] = candidates
		}
		list = append(list, e)
	}
	return list[:min(len(list), 100)]
}

// problemType is the type of a problem: the same wherever the service runs, so that
// programs can compare it (RFC 9457, section 3.1.1; RFC 4151). What it means stands at
// /problems/CODE of every service.
func problemType(code string) string { return "tag:meniscus.example,2026:problem/" + code }

// routingFault is the fault behind a status that the router gives.
func routingFault(code int) error {
	if code == http.StatusMethodNotAllowed {
		return fault.Of(fault.MethodNotAllowed, "method-not-allowed",
			"This path does not take this method; the header Allow lists those that it takes.")
	}
	return fault.Of(fault.NotFound, "path-unknown", "There is no such path; the contract at /openapi.json lists them all.")
}
