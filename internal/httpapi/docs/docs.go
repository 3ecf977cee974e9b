// Package docs holds the interactive reference: a page that shows the contract and
// really sends requests with the reader's own key.
//
// It promises: everything that the page needs is inside the binary, and its
// content security policy lets it talk to this service alone, so it works
// without any outside network and sends a key nowhere else. The key stays in
// the open page; it is not stored.
//
// It does not know the contract: the page fetches the contract like any client.
package docs

import (
	"embed"
	"fmt"
	"io/fs"
	"path"
	"strings"
)

//go:embed page
var page embed.FS

// Policy is the page's content security policy: nothing from another host, no script
// and no style outside its own files, and no text that is read as HTML. Pictures that
// were answered are shown from the page's own memory (blob).
const Policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob:; connect-src 'self'; " +
	"require-trusted-types-for 'script'; trusted-types 'none'; " +
	"base-uri 'none'; form-action 'none'; frame-ancestors 'none'"

// types are the media types of the page's files; the machine's own table is not used.
var types = map[string]string{
	".html": "text/html; charset=utf-8",
	".css":  "text/css; charset=utf-8",
	".js":   "text/javascript; charset=utf-8",
	".svg":  "image/svg+xml",
}

// File is one of the page's files.
type File struct {
	Path      string // /docs is the page itself, the others are below it
	MediaType string
	Content   []byte
}

// Files gives the page and all that it loads except the contract.
func Files() ([]File, error) {
	entries, err := fs.ReadDir(page, "page")
	if err != nil {
		return nil, fmt.Errorf("reading the reference page: %w", err)
	}
	files := make([]File, 0, len(entries))
	for _, entry := range entries {
		content, err := fs.ReadFile(page, path.Join("page", entry.Name()))
		if err != nil {
			return nil, fmt.Errorf("reading the reference page: %w", err)
		}
		at := strings.TrimSuffix("/docs/"+entry.Name(), "/docs.html")
		files = append(files, File{at, types[path.Ext(entry.Name())], content})
	}
	return files, nil
}
