package solution

import (
	"slices"

	"meniscus/internal/bibliography"
)

// Status says how far a value or a formula was checked.
type Status = bibliography.Status

// The statuses.
const (
	Verified       = bibliography.Verified
	Read           = bibliography.Read
	Computed       = bibliography.Computed
	Memory         = bibliography.Memory
	CommonPractice = bibliography.CommonPractice
	Own            = bibliography.Own
)

// Source is where a value, a formula or a sentence comes from, as a reader sees it.
type Source struct {
	ID       string // its key in the bibliography; one citation has one
	Citation string
	Status   Status
}

// Cited is an entry of the bibliography with how far what it is named for was checked.
func Cited(key string, status Status) Source {
	s := bibliography.Named(key)
	return Source{ID: s.Key, Citation: s.Citation, Status: status}
}

// practice is the source of a fact of the trade without a published one.
var practice = Cited("common-practice", CommonPractice)

// Severity ranks a warning.
type Severity string

const (
	// Block: do not do it. Only for harm that cannot be undone.
	Block Severity = "block"
	// Warn: something may go wrong.
	Warn Severity = "warn"
	// Info: worth knowing.
	Info Severity = "info"
)

// Warning is about one computation.
type Warning struct {
	Code     string // stable, in kebab-case
	Severity Severity
	Sentence string
	Source   Source
}

// Caution is a sentence on health and fire that does not depend on the numbers.
type Caution struct {
	Sentence string
	Source   Source
}

// Advice is what every answer carries beside its numbers: the answer in words, the steps in
// working order, warnings and cautions, and sources.
type Advice struct {
	// Answer is what was asked for, in a sentence or two.
	Answer   string
	Steps    []string
	Warnings []Warning
	Cautions []Caution
	Sources  []Source
	// Millilitres is how much liquid the hands pour, to warn by; 0 is not known.
	Millilitres float64
}

// warn adds a warning.
func (a *Advice) warn(code string, severity Severity, source Source, sentence string) {
	a.Warnings = append(a.Warnings, Warning{Code: code, Severity: severity, Sentence: sentence, Source: source})
}

// caution adds cautions, each once.
func (a *Advice) caution(all ...Caution) {
	for _, c := range all {
		if !slices.Contains(a.Cautions, c) {
			a.Cautions = append(a.Cautions, c)
		}
	}
}

// Cited are all sources of an answer, those of its warnings and cautions too, each once.
func (a Advice) Cited() []Source {
	var all Advice
	all.cite(a.Sources...)
	for _, w := range a.Warnings {
		all.cite(w.Source)
	}
	for _, c := range a.Cautions {
		all.cite(c.Source)
	}
	return all.Sources
}

// citeAssumptions adds the sources of the assumed values.
func (a *Advice) citeAssumptions(all []Assumption) {
	for _, x := range all {
		a.cite(x.Source)
	}
}

// cite adds sources, each once, in the order in which they come.
func (a *Advice) cite(sources ...Source) {
	for _, s := range sources {
		if s.Citation != "" && !slices.Contains(a.Sources, s) {
			a.Sources = append(a.Sources, s)
		}
	}
}
