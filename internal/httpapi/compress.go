package httpapi

import (
	"bytes"
	"compress/gzip"
	"fmt"
	"io"
	"mime"
	"slices"
	"strings"
	"sync"
)

const (
	// worthwhile is the smallest size that is compressed.
	worthwhile = 1400
	// gzipTag ends the entity tag of a compressed answer: a strong tag identifies the
	// exact bytes, so each coding has its own.
	gzipTag = `-gzip"`
)

// compressors are fast ones: the default level takes five times as long, for answers that are a tenth smaller.
var compressors = sync.Pool{New: func() any {
	z, _ := gzip.NewWriterLevel(io.Discard, gzip.BestSpeed) // the level is valid
	return z
}}

// compress sends an answer compressed to a caller that accepts it. Answers with no-store
// hold secrets and stay plain; so do event streams, which are flushed event by event.
func (c *requestContext) compress(a *answer) error {
	if a.noStore || !compressible(a.mediaType) {
		return nil
	}
	a.vary("Accept-Encoding")
	if !acceptsGzip(c.echo.Request().Header.Values("Accept-Encoding")) {
		return nil
	}
	switch {
	case a.stream != nil:
		a.stream = compressed(a.stream)
	case a.packed != nil:
		a.body = a.packed
	case len(a.body) >= worthwhile:
		packed, err := packedBody(a.body)
		if err != nil {
			return err
		}
		a.body = packed
	default:
		return nil
	}
	a.setHeader("Content-Encoding", "gzip")
	if a.etag != "" {
		a.etag = packedTag(a.etag)
	}
	return nil
}

// packedBody is a whole body, compressed.
func packedBody(body []byte) ([]byte, error) {
	var b bytes.Buffer
	if err := compressed(func(w io.Writer) error { _, err := w.Write(body); return err })(&b); err != nil {
		return nil, fmt.Errorf("compressing an answer: %w", err)
	}
	return b.Bytes(), nil
}

func compressed(write func(io.Writer) error) func(io.Writer) error {
	return func(w io.Writer) error {
		z := compressors.Get().(*gzip.Writer)
		defer compressors.Put(z)
		z.Reset(w)
		if err := write(z); err != nil {
			return err
		}
		return z.Close()
	}
}

// compressible media types are those of text; pictures and archives are
// compressed already.
func compressible(mediaType string) bool {
	t := baseType(mediaType)
	return t != eventStream && (strings.HasPrefix(t, "text/") || t == "image/svg+xml" ||
		slices.ContainsFunc([]string{"json", "xml", "yaml"}, func(s string) bool { return strings.HasSuffix(t, s) }))
}

// acceptsGzip reads Accept-Encoding (RFC 9110, section 12.5.3); without it
// nothing is compressed.
func acceptsGzip(headers []string) bool {
	rest := 0.0
	for _, part := range strings.Split(strings.Join(headers, ","), ",") {
		coding, params, err := mime.ParseMediaType(strings.TrimSpace(part))
		switch {
		case err != nil:
		case coding == "gzip", coding == "x-gzip":
			return qualityOf(params["q"]) > 0
		case coding == "*":
			rest = qualityOf(params["q"])
		}
	}
	return rest > 0
}

// packedTag is the entity tag of the compressed answer.
func packedTag(tag string) string { return strings.TrimSuffix(tag, `"`) + gzipTag }

// plainTag is an entity tag without its coding: the record that it stands for.
func plainTag(tag string) string {
	if plain, ok := strings.CutSuffix(tag, gzipTag); ok {
		return plain + `"`
	}
	return tag
}
