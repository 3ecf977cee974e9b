package httpapi

import (
	"net/http"
	"slices"
	"strings"
)

// A page of any origin may read the public documents; everything else only pages of the
// origins that the operator names. Keys travel in a header that a page sets itself. The one
// cookie opens nothing but this service's own pages, so no credentials mode is offered.
const (
	corsMethods = "GET, HEAD, POST, PUT, DELETE"
	corsSends   = "Authorization, Content-Type, Accept, Idempotency-Key, If-Match, If-None-Match, Prefer, Last-Event-ID, " +
		"Record-Position"
	corsReads = "ETag, Link, Location, Retry-After, RateLimit, RateLimit-Policy, Deprecation, Sunset, " +
		"Preference-Applied, Idempotency-Replayed, Record-Position, WWW-Authenticate"
	corsMaxAge = "600"
)

// publicDocuments are the beginnings of paths that any page may read.
var publicDocuments = []string{"/openapi.", "/docs", "/problems/", "/.well-known/"}

func isPublicDocument(path string) bool {
	return slices.ContainsFunc(publicDocuments, func(p string) bool { return strings.HasPrefix(path, p) })
}

// crossOrigin sets the CORS headers. done is true where the request was a preflight,
// which it answers.
func (s *Server) crossOrigin(w http.ResponseWriter, r *http.Request) (done bool) {
	h, origin := w.Header(), r.Header.Get("Origin")
	allowed := ""
	switch {
	case isPublicDocument(r.URL.Path), slices.Contains(s.origins, "*"):
		allowed = "*"
	case len(s.origins) == 0:
		return false
	default:
		h.Add("Vary", "Origin")
		if slices.Contains(s.origins, origin) {
			allowed = origin
		}
	}
	if allowed == "" {
		return false
	}
	h.Set("Access-Control-Allow-Origin", allowed)
	if r.Method != http.MethodOptions || r.Header.Get("Access-Control-Request-Method") == "" {
		h.Set("Access-Control-Expose-Headers", corsReads)
		return false
	}
	h.Set("Access-Control-Allow-Methods", corsMethods)
	h.Set("Access-Control-Allow-Headers", corsSends)
	h.Set("Access-Control-Max-Age", corsMaxAge)
	w.WriteHeader(http.StatusNoContent)
	return true
}
