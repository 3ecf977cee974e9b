package stack

import (
	"slices"
	"strings"
	"unique"

	"meniscus/internal/material"
)

// Sources are what something rests on, the most specific first and each once, as a text
// that can be compared and kept: a line a source, with its id, its kind and its citation.
type Sources string

// nowhere are the sources of what is not published.
const nowhere Sources = "\n"

// SourcesOf makes Sources of entries of the bibliography.
func SourcesOf(list ...material.Source) Sources {
	var lines []string
	for _, s := range list {
		if line := s.Key + "\t" + s.Kind + "\t" + s.Citation; s.Key != "" && !slices.Contains(lines, line) {
			lines = append(lines, line)
		}
	}
	return Sources(unique.Make(strings.Join(lines, "\n")).Value()) // many answers rest on the same
}

// List gives the sources one by one. A line without an id gives none.
func (s Sources) List() []material.Source {
	var out []material.Source
	for line := range strings.SplitSeq(string(s), "\n") {
		if parts := strings.SplitN(line, "\t", 3); len(parts) == 3 {
			out = append(out, material.Source{Key: parts[0], Kind: parts[1], Citation: parts[2]})
		}
	}
	return out
}

// and are the sources of two things.
func (s Sources) and(more Sources) Sources { return SourcesOf(slices.Concat(s.List(), more.List())...) }

// cite gives sources by their keys; one that the tables do not have is left out.
func (k knowing) cite(keys ...string) Sources {
	var found []material.Source
	for _, key := range keys {
		if s, ok := k.Source(key); ok {
			found = append(found, s)
		}
	}
	return SourcesOf(found...)
}

// sourcesOf are the sources of evidence.
func sourcesOf(evidence []Evidence) Sources {
	var all Sources
	for _, e := range evidence {
		all = all.and(e.Sources)
	}
	return all
}

// Text writes the citations as one text that a reader can follow.
func (s Sources) Text() string {
	return strings.Join(each(s.List(), func(x material.Source) string { return x.Citation }), "; ")
}
