package material

import (
	"cmp"
	"slices"
	"strings"
)

// Source is one entry of the bibliography.
type Source struct {
	// Key joins the tables, and is the id by which answers name a source.
	Key string
	// Kind is what sort of source it is: paper, abstract, handbook, mailing list …
	Kind string
	// Citation is what a reader sees: author, title, year.
	Citation string
}

var sourceKinds = wordSet("paper", "abstract", "handbook", "data set", "standard", "regulation", "supplier sheet",
	"leaflet", "web page", "mailing list", "recalled", "common practice")

// Status says where a value comes from.
type Status string

// The statuses of a value.
const (
	Verified        Status = "verified"        // read in the source named
	Computed        Status = "computed"        // computed from values that were read
	Memory          Status = "memory"          // recalled; the source was not seen
	CommonPractice  Status = "common-practice" // a fact of the trade without a published source
	InstitutionsOwn Status = "own"             // the institution's own, with its own citation
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
func (b *Base) Source(key string) (Source, bool) {
	s, ok := b.sources[key]
	return s, ok
}

// Bibliography lists the sources in the alphabetical order of their citations;
// text keeps those that hold it, whatever their case, spaces and punctuation.
func (b *Base) Bibliography(text string) []Source {
	want := fold(text)
	out := slices.DeleteFunc(b.Sources(), func(s Source) bool { return !strings.Contains(fold(s.Citation), want) })
	slices.SortFunc(out, func(x, y Source) int {
		return cmp.Or(strings.Compare(strings.ToLower(x.Citation), strings.ToLower(y.Citation)),
			strings.Compare(x.Key, y.Key))
	})
	return out
}

// Sources lists the whole bibliography in the order of the table.
func (b *Base) Sources() []Source { return append([]Source(nil), b.bibliography...) }
