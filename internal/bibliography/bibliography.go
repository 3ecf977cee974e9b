// Package bibliography holds every source that a value, a rule or a sentence of the
// service names, and tells what a source is worth.
//
// It is one table, sources.tsv, built into the binary. A citation names a key; a
// reader is given the citation, which says so where the source cannot be found again.
//
// It does not say what was read where: a value carries its own status, and Verify tells
// whether its sources bear the best one.
package bibliography

import (
	"cmp"
	_ "embed"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
)

// Source is one entry of the bibliography.
type Source struct {
	// Key joins the tables, and is the id by which answers name a source.
	Key string
	// Kind is what sort of source it is: paper, abstract, handbook, mailing list …
	Kind string
	// Origin is whose statement it is: sources of one origin are one witness.
	Origin   string
	Standing Standing
	// Citation is what a reader sees: author, title, year, and that it cannot be
	// found again where that is so.
	Citation string
}

// Standing is what a source is worth as a witness.
type Standing string

// The standings, the best first.
const (
	// Primary: its authors measured, decided or require what it says.
	Primary Standing = "primary"
	// Secondary: dated, and can be found again.
	Secondary Standing = "secondary"
	// Weak: can be found again, but undated or at second hand.
	Weak Standing = "weak"
	// Lost: cannot be found again by what its citation says.
	Lost Standing = "lost"
	// NoDocument: recalled, common practice, or the institution's own.
	NoDocument Standing = "none"
)

// Before orders standings, the best first.
func (s Standing) Before(t Standing) bool { return s.rank() < t.rank() }

func (s Standing) rank() int {
	return slices.Index([]Standing{Primary, Secondary, Weak, Lost, NoDocument, ""}, s)
}

const cannotBeFound = "; cannot be found again"

var kinds = []string{"paper", "abstract", "handbook", "data set", "standard", "regulation", "supplier sheet",
	"leaflet", "web page", "mailing list", "recalled", "common practice", "own statement"}

// undocumented are the kinds that are no document.
var undocumented = []string{"recalled", "common practice", "own statement"}

//go:embed sources.tsv
var table string

// read is the built-in table by its order and by its keys. It panics when the table
// does not read; a test of this package checks that it does.
var read = sync.OnceValue(func() (all struct {
	order []Source
	byKey map[string]Source
}) {
	order, err := parse(table)
	if err != nil {
		panic("the bibliography does not load: " + err.Error())
	}
	all.order, all.byKey = order, make(map[string]Source, len(order))
	for _, s := range order {
		all.byKey[s.Key] = s
	}
	return all
})

// parse reads the table and names every faulty line.
func parse(text string) ([]Source, error) {
	var out []Source
	var faults []error
	seen := map[string]bool{}
	for n, line := range strings.Split(strings.TrimSuffix(text, "\n"), "\n") {
		if strings.HasPrefix(line, "#") || line == "key\tkind\torigin\tstanding\tcitation" {
			continue
		}
		s, err := parseLine(line)
		if err == nil && seen[s.Key] {
			err = fmt.Errorf("source %q stands twice", s.Key)
		}
		if err != nil {
			faults = append(faults, fmt.Errorf("sources.tsv:%d: %w", n+1, err))
			continue
		}
		seen[s.Key] = true
		out = append(out, s)
	}
	return out, errors.Join(faults...)
}

func parseLine(line string) (Source, error) {
	cells := strings.Split(line, "\t")
	if len(cells) != 5 || slices.Contains(cells, "") {
		return Source{}, errors.New("want key, kind, origin, standing and citation")
	}
	s := Source{Key: cells[0], Kind: cells[1], Origin: cells[2], Standing: Standing(cells[3]), Citation: cells[4]}
	switch {
	case !slices.Contains(kinds, s.Kind):
		return s, fmt.Errorf("%q is no kind of source", s.Kind)
	case s.Standing.rank() < 0:
		return s, fmt.Errorf("%q is no standing", s.Standing)
	case slices.Contains(undocumented, s.Kind) != (s.Standing == NoDocument):
		return s, fmt.Errorf("the standing %q does not go with the kind %q", s.Standing, s.Kind)
	}
	if s.Standing == Lost {
		s.Citation += cannotBeFound
	}
	return s, nil
}

// Find gives the source of a key.
func Find(key string) (Source, bool) {
	s, ok := read().byKey[key]
	return s, ok
}

// Named gives the source of a key that the code itself names. It panics for one that
// is not in the table.
func Named(key string) Source {
	s, ok := Find(key)
	if !ok {
		panic("not in the bibliography: " + key)
	}
	return s
}

// All lists the bibliography in the order of the table.
func All() []Source { return slices.Clone(read().order) }

// Holding lists the sources whose citation keeps, in alphabetical order of the citations.
func Holding(keep func(citation string) bool) []Source {
	out := slices.DeleteFunc(All(), func(s Source) bool { return !keep(s.Citation) })
	slices.SortFunc(out, func(x, y Source) int {
		return cmp.Or(strings.Compare(strings.ToLower(x.Citation), strings.ToLower(y.Citation)),
			strings.Compare(x.Key, y.Key))
	})
	return out
}

// Verify tells whether a value that was read in these sources may be called verified:
// one of them is primary, or two of them are independent, dated and can be found again.
func Verify(sources ...Source) bool {
	origins := map[string]bool{}
	for _, s := range sources {
		switch s.Standing {
		case Primary:
			return true
		case Secondary:
			origins[s.Origin] = true
		}
	}
	return len(origins) > 1
}
