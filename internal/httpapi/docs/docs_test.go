package docs_test

import (
	"regexp"
	"strings"
	"testing"

	"meniscus/internal/httpapi/docs"
)

func files(t *testing.T) map[string]docs.File {
	t.Helper()
	list, err := docs.Files()
	if err != nil {
		t.Fatal(err)
	}
	byPath := map[string]docs.File{}
	for _, f := range list {
		byPath[f.Path] = f
	}
	return byPath
}

var (
	named    = regexp.MustCompile(`(?:src|href)="(docs/[^"]+)"`)
	imported = regexp.MustCompile(`from '\.(/[^']+)'`)
)

// The page and its scripts name every file that is served and no other, each with a
// type that a browser which was told not to sniff accepts.
func TestPageAndItsFiles(t *testing.T) {
	t.Parallel()
	known := files(t)
	types := map[string]string{
		"docs": "text/html; charset=utf-8", "js": "text/javascript; charset=utf-8",
		"css": "text/css; charset=utf-8", "svg": "image/svg+xml",
	}
	wanted := map[string]bool{"/docs": true}
	for _, m := range named.FindAllStringSubmatch(string(known["/docs"].Content), -1) {
		wanted["/"+m[1]] = true
	}
	delete(wanted, "/docs/openapi.json") // the contract, which the page shows
	for path, f := range known {
		if got, want := f.MediaType, types[path[strings.LastIndexAny(path, "/.")+1:]]; got != want || len(f.Content) == 0 {
			t.Errorf("%s: got %d bytes of %q, want %q", path, len(f.Content), got, want)
		}
		if !wanted[path] {
			t.Errorf("the page does not name %s", path)
		}
		for _, m := range imported.FindAllStringSubmatch(string(f.Content), -1) {
			if !wanted["/docs"+m[1]] {
				t.Errorf("%s imports %s, which the page does not name", path, m[1])
			}
		}
	}
	if len(known) != len(wanted) {
		t.Errorf("%d files are served, and the page names %d", len(known), len(wanted))
	}
}

// The files name no other host, the policy would not let them speak to one, and
// nothing in them reads a text as HTML or sets a style in the page.
func TestNothingComesFromOutside(t *testing.T) {
	t.Parallel()
	outside := regexp.MustCompile(`https?://|[("']//|innerHTML|outerHTML|insertAdjacentHTML|document\.write|\sstyle=`)
	for path, f := range files(t) {
		text := strings.ReplaceAll(string(f.Content), "http://www.w3.org/2000/svg", "")
		if got := outside.FindString(text); got != "" {
			t.Errorf("%s has %q", path, got)
		}
	}
	if strings.Contains(docs.Policy, "http") || strings.Contains(docs.Policy, "unsafe") || !strings.HasPrefix(docs.Policy, "default-src 'none'; script-src 'self';") {
		t.Errorf("policy %q", docs.Policy)
	}
}
