package httpapi

import (
	"crypto/sha256"
	"encoding/hex"
	"io"
	"mime"
	"net/http"
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"

	"meniscus/internal/wire"
)

// answer is what a handler gives back.
type answer struct {
	status    int // 200 if zero
	mediaType string
	body      []byte
	packed    []byte                // the body, if it was compressed in advance
	stream    func(io.Writer) error // instead of body
	etag      string                // made from the body if empty
	noStore   bool                  // no cache may keep it
	header    http.Header
	after     func() // called when the answer was sent, or could not be
	// maybeMinimal says that the body may be left out for a caller who prefers it.
	maybeMinimal bool
}

// ok answers 200 with a wire type.
func ok(v any) (*answer, error) { return with(http.StatusOK, v) }

// with answers a status with a wire type.
func with(status int, v any) (*answer, error) {
	body, err := wire.Encode(v)
	if err != nil {
		return nil, err
	}
	return &answer{status: status, body: body}, nil
}

func (a *answer) setHeader(name, value string) {
	if a.header == nil {
		a.header = http.Header{}
	}
	a.header.Set(name, value)
}

func (a *answer) addHeader(name, value string) {
	if a.header == nil {
		a.header = http.Header{}
	}
	a.header.Add(name, value)
}

// saidBefore marks the answer to a request that had been carried out before.
func (a *answer) saidBefore(replayed bool) *answer {
	if replayed {
		a.setHeader("Idempotency-Replayed", "true")
	}
	return a
}

// vary says that the answer depends on a header of the request.
func (a *answer) vary(name string) {
	for _, said := range a.header.Values("Vary") {
		if strings.Contains(said+",", name+",") {
			return
		}
	}
	a.addHeader("Vary", name)
}

// drop gives back what an answer holds that is not sent.
func (a *answer) drop() {
	if a != nil && a.after != nil {
		a.after()
	}
}

// write sends the answer. An error is that of a stream that has begun: the connection has
// to be broken off, so that the caller does not take half an answer for a whole one.
func (a *answer) write(ec echo.Context) error {
	if a.after != nil {
		defer a.after()
	}
	h := ec.Response().Header()
	for name, values := range a.header {
		if name == "Vary" {
			values = append(h[name], values...)
		}
		h[name] = values
	}
	if a.etag != "" {
		h.Set("ETag", a.etag)
	}
	if a.noStore {
		h.Set("Cache-Control", "no-store")
	} else if h.Get("Cache-Control") == "" {
		h.Set("Cache-Control", "private, no-cache")
	}
	if a.body != nil || a.stream != nil {
		h.Set("Content-Type", a.mediaType)
	}
	if a.body != nil {
		h.Set("Content-Length", strconv.Itoa(len(a.body)))
	}
	ec.Response().WriteHeader(a.status)
	if ec.Request().Method == http.MethodHead {
		return nil
	}
	if a.stream != nil {
		return a.stream(ec.Response())
	}
	_, _ = ec.Response().Write(a.body) // an error means that the caller has left
	return nil
}

// contentTag is a strong validator made from the bytes themselves.
func contentTag(body []byte) string {
	sum := sha256.Sum256(body)
	return `"` + hex.EncodeToString(sum[:12]) + `"`
}

// tagMatches compares If-None-Match weakly (RFC 9110, section 13.1.2).
func tagMatches(headers []string, etag string) bool {
	for _, candidate := range strings.Split(strings.Join(headers, ","), ",") {
		candidate = strings.TrimSpace(candidate)
		if candidate == "*" || plainTag(strings.TrimPrefix(candidate, "W/")) == etag {
			return true
		}
	}
	return false
}

// baseType is a media type without its parameters, in lower case.
func baseType(header string) string {
	t, _, err := mime.ParseMediaType(header)
	if err != nil {
		return ""
	}
	return t
}

// preferred picks the media type that Accept likes best among those given; the
// first given wins a tie, and an absent header takes anything.
func preferred(accept, given []string) string {
	if len(accept) == 0 {
		return given[0]
	}
	ranges := strings.Split(strings.Join(accept, ","), ",")
	best, bestQ := "", 0.0
	for _, g := range given {
		if q := quality(ranges, g); q > bestQ {
			best, bestQ = g, q
		}
	}
	return best
}

// quality is the q of the most specific range that covers a media type.
func quality(ranges []string, mediaType string) float64 {
	q, specific := 0.0, -1
	kind, _, _ := strings.Cut(mediaType, "/")
	for _, r := range ranges {
		t, params, err := mime.ParseMediaType(strings.TrimSpace(r))
		if err != nil {
			continue
		}
		level := -1
		switch t {
		case baseType(mediaType):
			level = 2
		case kind + "/*":
			level = 1
		case "*/*":
			level = 0
		}
		if level > specific {
			specific, q = level, qualityOf(params["q"])
		}
	}
	return q
}

func qualityOf(text string) float64 {
	if text == "" {
		return 1
	}
	q, err := strconv.ParseFloat(text, 64)
	if err != nil || q < 0 || q > 1 {
		return 0
	}
	return q
}
