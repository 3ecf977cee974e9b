package stack

import (
	"cmp"
	"fmt"
	"slices"

	"meniscus/internal/fault"
)

// Severity is how much a finding asks for.
type Severity string

const (
	// Block stops a plan until it is overridden with a reason. It is kept for
	// harm that cannot be undone. A record of what happened is never refused.
	Block Severity = "block"
	Warn  Severity = "warn"
	Info  Severity = "info"
)

func (s Severity) weight() int {
	return slices.Index([]Severity{Info, Warn, Block}, s)
}

// softer is one step less.
func (s Severity) softer() Severity {
	if s == Block {
		return Warn
	}
	return Info
}

// Finding is one result of a check.
type Finding struct {
	Rule     string
	Severity Severity
	Areas    []Area
	// Layers are the treatments whose layers are concerned; Count is how many
	// layers they are where not all are listed.
	Layers   []string
	Count    int
	Sentence string
	Remedy   string
	Sources  Sources
	// Status is the weakest status of what the rule rests on.
	Status string
	Backing
	// Unknown says that the finding is there because something is unknown.
	Unknown bool
	// Unanswerable says that it is about a moment that is past, and what it asks for was
	// not recorded.
	Unanswerable bool
	// Traits are what is not stated of the body and would settle the finding.
	Traits []Trait
	// Possible says that the place is only possibly reached.
	Possible bool
	// TunedFrom and TunedBecause are there when the institution chose another
	// severity.
	TunedFrom    Severity
	TunedBecause string
	// Overridden is the reason with which a block was set aside.
	Overridden string
}

// Cleared is a matter that was looked at and has an answer: nothing speaks
// against it, and this is why. A warning that no longer applies is listed
// here.
type Cleared struct {
	Rule     string
	Layers   []string
	Count    int
	Sentence string
	Sources  Sources
	Backing
}

// Checked is the answer of a check.
type Checked struct {
	Findings           []Finding
	Cleared            []Cleared
	Contradictions     []Contradiction
	MoreContradictions int
}

// Blocked tells whether a block stands that was not set aside.
func (c Checked) Blocked() bool {
	return slices.ContainsFunc(c.Findings, func(f Finding) bool { return f.Severity == Block && f.Overridden == "" })
}

// Tuned is an institution's own severity for a rule, with its reason.
type Tuned struct {
	Severity Severity
	Reason   string
}

// Tuning is an institution's own severities, by rule. A finding about
// something unknown keeps at least the severity that the rule gives it unless
// the institution tunes the rule too.
type Tuning map[string]Tuned

// Check says what is wrong with a tuning: a rule that does not exist, a
// severity that does not exist, or a change without a reason.
func (t Tuning) Check() error {
	var faults fault.List
	for id, tuned := range t {
		at := "/" + fault.Escape(id)
		if _, ok := RuleByID(id); !ok {
			faults.Add("rule-unknown", at, "There is no rule of this name; the rules are listed by the service.")
		}
		if tuned.Severity.weight() < 0 {
			faults.Add("severity-unknown", at+"/severity", "A severity is block, warn or info.")
		}
		if tuned.Reason == "" {
			faults.Add("tuning-reason-missing", at+"/reason", "Say why the severity is changed; "+
				"the reason stands beside every finding of the rule.")
		}
	}
	slices.SortFunc(faults, func(a, b *fault.Fault) int { return cmp.Compare(a.Pointer, b.Pointer) })
	return faults.Err()
}

// Override sets a block aside, for one rule, with a reason.
type Override struct {
	Rule, Reason string
}

// maxListed is how many treatments a finding names.
const maxListed = 100

// sortFindings puts those about the people who work on it first, then the most severe,
// then the rules in their order. What is true of two things that are put on is said once.
func sortFindings(list []Finding) []Finding {
	slices.SortStableFunc(list, func(a, b Finding) int {
		return cmp.Or(
			boolOrder(!AboutPeople(a.Rule), !AboutPeople(b.Rule)),
			cmp.Compare(b.Severity.weight(), a.Severity.weight()),
			cmp.Compare(ruleRank(a.Rule), ruleRank(b.Rule)),
			slices.Compare(a.Areas, b.Areas),
			slices.Compare(a.Layers, b.Layers),
			cmp.Compare(a.Sentence, b.Sentence))
	})
	return slices.CompactFunc(list, func(a, b Finding) bool {
		return a.Rule == b.Rule && a.Sentence == b.Sentence && slices.Equal(a.Areas, b.Areas) &&
			slices.Equal(a.Layers, b.Layers)
	})
}

// String writes a finding for a log or a failing test.
func (f Finding) String() string {
	return fmt.Sprintf("%s %s %v %s", f.Severity, f.Rule, f.Layers, f.Sentence)
}
