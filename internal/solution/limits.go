package solution

import (
	"fmt"
	"slices"
	"strings"
)

// Above tells whether air is above a limit.
type Above string

// The answers. Unknown: it is below a limit that does not decide where the caller is.
const (
	AboveYes     Above = "yes"
	AboveNo      Above = "no"
	AboveUnknown Above = "unknown"
)

// LimitComparison sets the near-work estimate against one list of limits. The
// room's own figure is given too, but never compared alone: the worker does not
// breathe the average of the room.
type LimitComparison struct {
	List  string
	Where string // its jurisdiction, a code of ISO 3166 or EU; "" is the caller's own
	Kind  LimitKind
	// Near and Room are Σ C/L over the solvents that have such a limit.
	Near, Room float64
	// Parts are the shares of the near estimate, one a solvent.
	Parts []LimitPart
	// Without names the solvents for which this list holds no such limit: the sum
	// is then a lower bound.
	Without []string
	// Above is no only against limits in force where the caller is, of every solvent.
	Above Above
	// Undecided says why it is not known; "" where it is.
	Undecided string
	// Leads tells that the list is the strictest published one of its kind, or the caller's own.
	Leads    bool
	Sentence string
}

// LimitPart is one solvent's share of a sum.
type LimitPart struct {
	Solvent string
	PPM     float64 // the limit
	Near    float64 // C/L
	Source  Source
}

// compareAll sets air against every list and kind of limit that any of the solvents has:
//
//	Σ Cᵢ/Lᵢ   above 1 is above the limit, for solvents that act alike
//
// with the concentration over the time that the limit averages over. Source: additive effect, university
// industrial-hygiene notes (read).
func compareAll(solvents []Evaporating, near, room func(i int, kind LimitKind) float64,
	sentence func(LimitComparison) string) []LimitComparison {
	var all []LimitComparison
	for _, key := range limitKeys(solvents) {
		c := LimitComparison{List: key.List, Where: key.Where, Kind: key.Kind, Leads: key.Where == ""}
		for i, solvent := range solvents {
			limit, ok := solvent.limit(key.List, key.Kind)
			if !ok && !solvent.Water {
				c.Without = append(c.Without, solvent.Name)
			}
			if !ok {
				continue
			}
			part := near(i, key.Kind) / limit.PPM
			c.Near += part
			c.Room += room(i, key.Kind) / limit.PPM
			c.Parts = append(c.Parts, LimitPart{Solvent: solvent.Name, PPM: limit.PPM, Near: part, Source: limit.Source})
			if c.Undecided == "" {
				c.Undecided = limit.Undecided
			}
		}
		c.decide()
		c.Sentence = sentence(c)
		all = append(all, c)
	}
	lead(all)
	return all
}

// decide tells whether it is above the limit.
func (c *LimitComparison) decide() {
	switch {
	case c.Near > 1:
		c.Above, c.Undecided = AboveYes, ""
	case c.Undecided == "" && len(c.Without) == 0:
		c.Above = AboveNo
	default:
		c.Above = AboveUnknown
	}
}

// lead marks the strictest published list of each kind.
func lead(all []LimitComparison) {
	for _, kind := range []LimitKind{WorkingDay, ShortTerm, Ceiling} {
		strictest := -1
		for i, c := range all {
			if c.Kind == kind && c.Where != "" && (strictest < 0 || c.Near > all[strictest].Near) {
				strictest = i
			}
		}
		if strictest >= 0 {
			all[strictest].Leads = true
		}
	}
}

// limitKeys lists the lists and kinds of limit, in the order in which they come: those that hold where the
// caller is and the caller's own, or all where no list of the place is held.
func limitKeys(solvents []Evaporating) []ExposureLimit {
	var keys []ExposureLimit
	known := false
	for _, solvent := range solvents {
		for _, l := range solvent.Limits {
			known = known || l.Here && l.Where != ""
			if !slices.ContainsFunc(keys, func(k ExposureLimit) bool { return k.List == l.List && k.Kind == l.Kind }) {
				keys = append(keys, ExposureLimit{List: l.List, Where: l.Where, Kind: l.Kind, Here: l.Here})
			}
		}
	}
	if !known {
		return keys
	}
	return slices.DeleteFunc(keys, func(k ExposureLimit) bool { return !k.Here })
}

// compare sets the near-field estimates against the limits.
func (s scene) compare(air []SolventInAir) []LimitComparison {
	return compareAll(s.solvent, func(i int, kind LimitKind) float64 { return air[i].Near.over(kind) },
		func(i int, kind LimitKind) float64 { return air[i].Room.over(kind) }, LimitComparison.sentence)
}

// limit finds a solvent's limit in a list.
func (e Evaporating) limit(list string, kind LimitKind) (ExposureLimit, bool) {
	for _, l := range e.Limits {
		if l.List == list && l.Kind == kind && l.PPM > 0 {
			return l, true
		}
	}
	return ExposureLimit{}, false
}

// over gives the level that a kind of limit is compared with.
func (a InAir) over(kind LimitKind) float64 {
	switch kind {
	case ShortTerm:
		return a.Short.PPM.Value
	case Ceiling:
		return a.Peak.PPM.Value
	}
	return a.Day.PPM.Value
}

func (c LimitComparison) sentence() string {
	window := map[LimitKind]string{WorkingDay: "over 8 hours", ShortTerm: "over the worst 15 minutes",
		Ceiling: "at its highest"}[c.Kind]
	of := "of the limit"
	if len(c.Parts) > 1 {
		of = "of the limit for the solvents together"
	}
	text := fmt.Sprintf("%s %s: the estimate near the work is about %s times %s", c.List, window, about(c.Near),
		strings.TrimPrefix(of, "of "))
	if c.Above != AboveYes {
		text += "; this is an estimate, not a measurement, and says nothing of those who are sensitive"
	}
	return text + c.unsure() + "."
}

// unsure says what a sum leaves out, and why a limit does not decide.
func (c LimitComparison) unsure() (text string) {
	if len(c.Without) > 0 {
		text = "; no such limit is held for " + list(c.Without) + ", so the sum is too low"
	}
	if c.Undecided != "" {
		text += "; whether it is above the limit in force where you are is not known: " + c.Undecided
	}
	return text
}
