package httpapi

import (
	"net/http"
	"sync"
	"time"

	"github.com/labstack/echo/v4"

	"meniscus/api"
	"meniscus/internal/httpapi/docs"
)

// mountPages mounts what is for people and tools beside the contract's
// operations: the contract as YAML, the interactive reference, and a page for
// each type of problem.
func (s *Server) mountPages() error {
	s.page("/openapi.yaml", echoBytes("application/yaml", api.YAML))
	s.page("/", s.root)
	s.page("/.well-known/api-catalog", s.apiCatalog())
	if err := s.mountReference(); err != nil {
		return err
	}
	return s.mountProblemPages()
}

// mountReference mounts the interactive reference and its files.
func (s *Server) mountReference() error {
	files, err := docs.Files()
	if err != nil {
		return err
	}
	for _, f := range files {
		send := echoBytes(f.MediaType, f.Content)
		s.page(f.Path, func(ec echo.Context) error {
			h := ec.Response().Header()
			h.Set("Content-Security-Policy", docs.Policy)
			h.Set("Referrer-Policy", "no-referrer")
			h.Set("Cache-Control", "no-cache")
			return send(ec)
		})
	}
	s.page("/docs/openapi.json", echoBytes(jsonType, api.Readable))
	s.page("/docs/", func(ec echo.Context) error { // the page's links are relative to …/docs
		return ec.Redirect(http.StatusPermanentRedirect, "../docs")
	})
	return nil
}

// page mounts one page, which is made when its class of work has a turn. Its query is
// ignored, but has to be well formed.
func (s *Server) page(path string, h echo.HandlerFunc) {
	read := func(ec echo.Context) error {
		if ec.Request().Body != http.NoBody {
			readUntil(ec, time.Now()) // the body is not read
		}
		if _, f := readQueryString(ec.Request().URL.RawQuery); f != nil {
			return f
		}
		class := classes["page"]
		leave, err := s.admission.enter(ec.Request().Context(),
			blockOf(s.addressOf(ec.Request())), false, class, class.holds)
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

// protect keeps browsers from showing an answer in another site's frame, from loading or running
// anything that is in it, and from guessing what it is. A page with a policy of its own forbids
// frames there.
func protect(h http.Header, encrypted bool) {
	h.Set("Content-Security-Policy", "default-src 'none'; "+noFrames)
	h.Set("X-Frame-Options", "DENY") // for browsers that do not know the policy
	h.Set("X-Content-Type-Options", "nosniff")
	if encrypted { // by the service itself; a front says so for its own
		h.Set("Strict-Transport-Security", "max-age=31536000")
	}
}

// echoBytes answers with bytes that never change while the service runs, compressed
// for a caller that accepts it.
func echoBytes(mediaType string, body []byte) echo.HandlerFunc {
	tag := contentTag(body)
	packed := sync.OnceValues(func() ([]byte, error) { return packedBody(body) })
	worth := len(body) >= worthwhile && compressible(mediaType)
	return func(ec echo.Context) error {
		h, send, asked := ec.Response().Header(), body, ec.Request().Header
		h.Set("ETag", tag)
		if worth {
			h.Add("Vary", "Accept-Encoding")
		}
		if tagMatches(asked.Values("If-None-Match"), tag) {
			return ec.NoContent(http.StatusNotModified)
		}
		if worth && acceptsGzip(asked.Values("Accept-Encoding")) {
			var err error
			if send, err = packed(); err != nil {
				return err
			}
			h.Set("Content-Encoding", "gzip")
			h.Set("ETag", packedTag(tag))
		}
		return ec.Blob(http.StatusOK, mediaType, send)
	}
}
