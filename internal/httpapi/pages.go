package httpapi

import (
	"net/http"

	"github.com/labstack/echo/v4"
)

// echoBytes answers with bytes that never change while the service runs.
func echoBytes(mediaType string, body []byte) echo.HandlerFunc {
	tag := contentTag(body)
	return func(ec echo.Context) error {
		ec.Response().Header().Set("ETag", tag)
		if tagMatches(ec.Request().Header.Values("If-None-Match"), tag) {
			return ec.NoContent(http.StatusNotModified)
		}
		return ec.Blob(http.StatusOK, mediaType, body)
	}
}
