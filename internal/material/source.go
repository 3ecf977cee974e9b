package material

import (
	"strings"

	"meniscus/internal/bibliography"
)

// Source is one entry of the bibliography.
type Source = bibliography.Source

// Status says where a value comes from.
type Status = bibliography.Status

// The statuses of a value.
const (
	Verified        = bibliography.Verified
	Read            = bibliography.Read
	Computed        = bibliography.Computed
	Memory          = bibliography.Memory
	CommonPractice  = bibliography.CommonPractice
	InstitutionsOwn = bibliography.Own
)

// Evidence is where a statement comes from.
type Evidence struct {
	Source Source
	// Also are further sources that say the same.
	Also   []Source
	Status Status
}

// Citations gives the texts that a reader sees, the first source first.
func (e Evidence) Citations() []string {
	out := make([]string, 0, 1+len(e.Also))
	out = append(out, e.Source.Citation)
	for _, s := range e.Also {
		out = append(out, s.Citation)
	}
	return out
}

// Source finds a bibliography entry by its key.
func (b *Base) Source(key string) (Source, bool) { return bibliography.Find(key) }

// Bibliography lists the sources in the alphabetical order of their citations;
// text keeps those that hold it, without regard to case, spaces and punctuation.
func (b *Base) Bibliography(text string) []Source {
	want := fold(text)
	return bibliography.Holding(func(citation string) bool { return strings.Contains(fold(citation), want) })
}

// Sources lists the whole bibliography in the order of the table.
func (b *Base) Sources() []Source { return bibliography.All() }
