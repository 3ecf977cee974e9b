package httpapi

import (
	"fmt"
	"net/http"

	"github.com/labstack/echo/v4"

	"meniscus/api"
	"meniscus/internal/fault"
	"meniscus/internal/httpapi/docs"
)

// mountPages mounts what is for people and tools beside the contract's
// operations: the contract as YAML, the interactive reference, and a page for
// each type of problem.
func (s *Server) mountPages() error {
	reference, err := docs.Handler()
	if err != nil {
		return err
	}
	s.echo.GET("/openapi.yaml", echoBytes("application/yaml", api.YAML))
	s.echo.GET("/", s.root)
	catalog := s.apiCatalog()
	s.echo.GET("/.well-known/api-catalog", catalog)
	s.echo.HEAD("/.well-known/api-catalog", catalog)
	s.echo.GET("/docs", echo.WrapHandler(reference))
	s.echo.GET("/docs/*", echo.WrapHandler(reference))
	for kind, known := range statuses {
		s.echo.GET("/problems/"+known.slug, echoBytes("text/plain; charset=utf-8", problemPage(kind)))
	}
	return nil
}

// problemPage says what a kind of problem means and what to do.
func problemPage(kind fault.Kind) []byte {
	known := statuses[kind]
	return fmt.Appendf(nil, "%s (status %d)\n\n%s.\n\n%s\n", known.slug, known.status, known.title, whatToDo[kind])
}

// whatToDo is for the developer who meets a problem for the first time.
var whatToDo = map[fault.Kind]string{
	fault.Invalid:             "Each of the problem's errors has a pointer into the body, a code, and a sentence that says how to mend it. All faults are listed at once.",
	fault.Malformed:           "The request could not be read: see the problem's errors for where. Nothing was done.",
	fault.NotFound:            "The id or the path is wrong, or the thing belongs to another institution: the two are not told apart.",
	fault.Conflict:            "Read the record as it stands, and decide again.",
	fault.Stale:               "Somebody changed the record after it was read. Read it again; its ETag goes into If-Match.",
	fault.PreconditionMissing: "Read the record, and send its ETag in If-Match.",
	fault.Unauthenticated:     "Send Authorization: Bearer with an access key of this service.",
	fault.Forbidden:           "The key does not carry the scope that the operation needs; whoever administers the institution's keys can make another.",
	fault.TooLarge:            "Send less at a time.",
	fault.Unsupported:         "Send one of the media types that the contract lists for the operation.",
	fault.NotAcceptable:       "Accept one of the media types that the contract lists for the operation.",
	fault.MethodNotAllowed:    "The header Allow lists the methods of this path.",
	fault.Busy:                "Send the same request again after the seconds in Retry-After; if the first one succeeded, its record is answered.",
	fault.TooMany:             "Wait for the seconds in Retry-After. RateLimit says how much is left before that; an answer 304 costs nothing.",
	fault.Unavailable:         "Send the same request again after the seconds in Retry-After. Nothing is half-written.",
}

// echoBytes answers with bytes that never change while the service runs.
func echoBytes(mediaType string, body []byte) echo.HandlerFunc {
	tag := contentTag(body)
	return func(ec echo.Context) error {
		ec.Response().Header().Set("ETag", tag)
		ec.Response().Header().Set("X-Content-Type-Options", "nosniff")
		if tagMatches(ec.Request().Header.Values("If-None-Match"), tag) {
			return ec.NoContent(http.StatusNotModified)
		}
		return ec.Blob(http.StatusOK, mediaType, body)
	}
}
