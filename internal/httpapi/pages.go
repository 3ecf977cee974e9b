package httpapi

import (
	"net/http"

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
	s.echo.GET("/openapi.yaml", echoBytes("application/yaml", api.YAML))
	s.echo.GET("/", s.root)
	catalog := s.apiCatalog()
	s.echo.GET("/.well-known/api-catalog", catalog)
	s.echo.HEAD("/.well-known/api-catalog", catalog)
	s.echo.GET("/docs", echo.WrapHandler(reference))
	s.echo.GET("/docs/*", echo.WrapHandler(reference))
	return s.mountProblemPages()
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
