package httpapi

import (
	"strings"

	"meniscus/api"
	"meniscus/internal/material"
)

// listSources pages through the bibliography. Answers name its
// entries by their ids.
func listSources(s *Server, c *requestContext) (*answer, error) {
	sources := material.Builtin().Bibliography(c.text("text"))
	items, next, err := textPage(c, sources, func(x material.Source) string {
		return strings.ToLower(x.Citation) + "\x01" + x.Key
	})
	if err != nil {
		return nil, err
	}
	a, err := ok(api.BibliographyPage{Items: each(items, bibliographyEntry), Next: next})
	a, err = linked(a, err, next)
	return c.shared(a, err)
}

func bibliographyEntry(x material.Source) api.BibliographyEntry {
	return api.BibliographyEntry{Id: x.Key, Kind: x.Kind, Citation: x.Citation}
}
