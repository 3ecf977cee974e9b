package httpapi

import (
	"net/http"
	"time"

	"github.com/labstack/echo/v4"

	"meniscus/api"
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
	s.page("/openapi.yaml", echoBytes("application/yaml", api.YAML))
	s.page("/", s.root)
	s.page("/.well-known/api-catalog", s.apiCatalog())
	s.page("/docs", echo.WrapHandler(reference))
	s.page("/docs/*", echo.WrapHandler(reference))
	return s.mountProblemPages()
}

// page mounts one, which begins when its class of work has a turn. Its query says
// nothing, and must be one nevertheless.
func (s *Server) page(path string, h echo.HandlerFunc) {
	read := func(ec echo.Context) error {
		if ec.Request().Body != http.NoBody {
			readUntil(ec, time.Now()) // nobody reads it
		}
		if _, f := readQueryString(ec.Request().URL.RawQuery); f != nil {
			return f
		}
		class := classes["page"]
		leave, err := s.admission.enter(ec.Request().Context(), blockOf(addressOf(ec.Request().RemoteAddr)), false, class, class.holds)
		if err != nil {
			return err
		}
		defer leave()
		return h(ec)
	}
	s.echo.GET(path, read)
	s.echo.HEAD(path, read)
}

const noFrames = "frame-ancestors 'none'"

// forbidFraming keeps other sites from showing anything of ours inside a page of
// theirs. A page with a policy of its own says it again there.
func forbidFraming(h http.Header) {
	h.Set("Content-Security-Policy", noFrames)
	h.Set("X-Frame-Options", "DENY") // for browsers that do not know the policy
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
