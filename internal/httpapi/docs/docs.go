// Package docs serves the interactive reference: a page that shows the contract
// and really sends requests with the reader's own key.
//
// It promises: everything that the page needs is inside the binary, and its
// content security policy lets it talk to this service alone, so it works
// without any outside network and sends a key nowhere else. The key stays in
// the open page; it is not stored.
//
// It does not know the contract: the page fetches openapi.json like any client.
package docs

import (
	"bytes"
	"crypto/sha256"
	"embed"
	"fmt"
	"io/fs"
	"net/http"
	"path"
	"strings"
	"time"

	swagger "github.com/swaggo/files/v2"
)

//go:embed page
var page embed.FS

// policy allows nothing from another host. The viewer sets style attributes and
// draws its icons from data addresses.
const policy = "default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; " +
	"img-src 'self' data:; connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"

type file struct {
	content []byte
	etag    string
}

// handler holds the few files that the page loads, by the last part of their
// path; "docs" is the page itself.
type handler map[string]file

// Handler serves the page at …/docs and its files below …/docs/.
func Handler() (http.Handler, error) {
	h := handler{}
	for _, source := range []struct {
		files fs.FS
		names map[string]string // path in files: name in the address
	}{
		{page, map[string]string{"page/docs.html": "docs", "page/docs.js": "docs.js", "page/docs.css": "docs.css"}},
		{swagger.FS, map[string]string{
			"swagger-ui-bundle.js": "swagger-ui-bundle.js",
			"swagger-ui.css":       "swagger-ui.css",
			"favicon-32x32.png":    "favicon.png",
		}},
	} {
		for from, name := range source.names {
			content, err := fs.ReadFile(source.files, from)
			if err != nil {
				return nil, fmt.Errorf("reading the reference page: %w", err)
			}
			h[name] = file{content, fmt.Sprintf(`"%x"`, sha256.Sum256(content))}
		}
	}
	return h, nil
}

func (h handler) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	if strings.HasSuffix(r.URL.Path, "/docs/") { // the page's links are relative to …/docs
		http.Redirect(w, r, "../docs", http.StatusPermanentRedirect)
		return
	}
	name := path.Base(r.URL.Path)
	f, ok := h[name]
	if !ok {
		http.NotFound(w, r)
		return
	}
	header := w.Header()
	header.Set("Content-Security-Policy", policy)
	header.Set("Referrer-Policy", "no-referrer")
	header.Set("X-Content-Type-Options", "nosniff")
	header.Set("Cache-Control", "no-cache")
	header.Set("ETag", f.etag)
	if name == "docs" {
		name = "docs.html"
	}
	http.ServeContent(w, r, name, time.Time{}, bytes.NewReader(f.content))
}
