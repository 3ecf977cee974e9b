package stack

import (
	"slices"

	"meniscus/internal/bibliography"
)

// Rule is one rule of the checks: what it looks for, how much it asks for, what
// helps, and where it was read.
type Rule struct {
	// ID names the rule in plain words; answers and the contract say it so.
	ID       string
	Severity Severity
	// Condition is what the rule looks for, in one plain sentence.
	Condition string
	Remedy    string
	// Sources are the ids of the sources.
	Sources []string
	// Status is what its sources bear together.
	Status string
	// Application says that the rule is about the moment of working. What is not
	// recorded about a past moment is information and not a warning: it can no
	// longer be changed.
	Application bool

	look func(*scene)
}

// Rules that are also used outside their own lines of the tables.
const (
	solventReaches    = "solvent-reaches-earlier-layer"
	sameResinOver     = "same-resin-over-earlier-layer"
	knownSolvent      = "known-solvent-of-earlier-layer"
	unpreparedRemoval = "removal-without-support-or-number"
	friableUnreplaced = "friable-body-without-replacement"
	labelUnapproved   = "label-removal-without-approval"
)

// Rules are all rules in their order: hazards of the specimen to people, what a treatment does to the layers that it
// meets, how layers may lie, the order of removal, limits, and what not to do.
func Rules() []Rule { return slices.Clone(allRules) }

// RuleByID finds a rule.
func RuleByID(id string) (Rule, bool) {
	for _, r := range allRules {
		if r.ID == id {
			return r, true
		}
	}
	return Rule{}, false
}

var allRules []Rule

// init and not an initial value: the rules' functions lead back to the list.
func init() {
	allRules = slices.Concat(hazardRules, disturbingRules, layeringRules, removalRules, limitRules, avoidRules)
	for i := range allRules {
		allRules[i].Status = string(bibliography.Borne(allRules[i].Sources))
	}
}

// AboutPeople tells whether a rule is about the hazards of the specimen to the people who
// work on it; its findings stand before all others.
func AboutPeople(rule string) bool {
	return slices.ContainsFunc(hazardRules, func(r Rule) bool { return r.ID == rule })
}

func ruleRank(id string) int {
	return slices.IndexFunc(allRules, func(r Rule) bool { return r.ID == id })
}

// Cited is where the rule was read.
func (r Rule) Cited(k Knowledge) Sources { return newKnowing(k).cite(r.Sources...) }
