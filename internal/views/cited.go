package views

import (
	"cmp"
	"slices"

	"meniscus/api"
	"meniscus/internal/stack"
)

// cited remembers what an answer names as sources, so that their texts stand once, at
// its end. The zero value is ready.
type cited struct {
	known map[string]api.BibliographyEntry
}

// ids remembers sources, and gives their ids.
func (c *cited) ids(of stack.Sources) []string {
	ids := []string{}
	for _, s := range of.List() {
		if c.known == nil {
			c.known = map[string]api.BibliographyEntry{}
		}
		c.known[s.Key] = api.BibliographyEntry{Id: s.Key, Kind: s.Kind, Citation: s.Citation}
		ids = append(ids, s.Key)
	}
	return ids
}

// idsOrNone are the ids of sources, or nothing where there are none.
func (c *cited) idsOrNone(of stack.Sources) *[]string { return listOrNone(c.ids(of)) }

// texts are all that was named, in the order of the ids.
func (c *cited) texts() *[]api.BibliographyEntry {
	out := make([]api.BibliographyEntry, 0, len(c.known))
	for _, entry := range c.known {
		out = append(out, entry)
	}
	slices.SortFunc(out, func(a, b api.BibliographyEntry) int { return cmp.Compare(a.Id, b.Id) })
	return &out
}

func (c *cited) rests(list []stack.Evidence) []api.LayerEvidence { return each(list, c.one) }

// one renders one piece of the evidence of an answer about a layer.
func (c *cited) one(e stack.Evidence) api.LayerEvidence {
	out := api.LayerEvidence{
		Says: e.Says, Sources: c.ids(e.Sources), Date: said(e.Date), Status: (*api.ValueStatus)(said(e.Status)),
	}
	if e.Treatment != "" {
		out.Treatment = new(refOf(e.Treatment))
	}
	return out
}

// Reported is evidence as a report keeps it, with the texts of its sources.
func Reported(e stack.Evidence) api.ReportedEvidence {
	var c cited
	one := c.one(e)
	out := api.ReportedEvidence{
		Says: one.Says, Treatment: one.Treatment, Source: e.Sources.Text(), Status: one.Status,
	}
	if e.Treatment != "" {
		out.Source = "Test on this specimen, " + e.Date
	}
	return out
}
