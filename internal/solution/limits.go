package solution

import (
	"fmt"
	"strings"
)

// LimitComparison sets the near-work estimate against one list of limits. The
// room's own figure is given too, but never compared alone: the worker does not
// breathe the average of the room.
type LimitComparison struct {
	List string
	Kind LimitKind
	// Near and Room are Σ C/L over the solvents that have such a limit.
	Near, Room float64
	// Parts are the shares of the near estimate, one a solvent.
	Parts []LimitPart
	// Without names the solvents for which this list holds no such limit: the sum
	// is then a lower bound.
	Without  []string
	Above    bool
	Sentence string
}

// LimitPart is one solvent's share of a sum.
type LimitPart struct {
	Solvent string
	PPM     float64 // the limit
	Near    float64 // C/L
	Source  Source
}

// compare sets the estimates against every list and kind of limit that any of
// the solvents has:
//
//	Σ Cᵢ/Lᵢ   above 1 is above the limit, for solvents that act alike
//
// with the near-field estimate over the time that the limit averages over.
// Source: additive effect, university industrial-hygiene notes (read).
func (s scene) compare(air []SolventInAir) []LimitComparison {
	var list []LimitComparison
	for _, key := range s.limitKeys() {
		list = append(list, s.compareOne(key.List, key.Kind, air))
	}
	return list
}

// limitKeys lists the lists and kinds of limit, in the order in which they come.
func (s scene) limitKeys() []ExposureLimit {
	var keys []ExposureLimit
	type key struct {
		list string
		kind LimitKind
	}
	seen := map[key]bool{}
	for _, solvent := range s.solvent {
		for _, l := range solvent.Limits {
			if k := (key{l.List, l.Kind}); !seen[k] {
				seen[k] = true
				keys = append(keys, ExposureLimit{List: l.List, Kind: l.Kind})
			}
		}
	}
	return keys
}

func (s scene) compareOne(list string, kind LimitKind, air []SolventInAir) LimitComparison {
	c := LimitComparison{List: list, Kind: kind}
	for i, solvent := range s.solvent {
		limit, ok := solvent.limit(list, kind)
		if !ok {
			c.Without = append(c.Without, solvent.Name)
			continue
		}
		near, room := air[i].Near.over(kind)/limit.PPM, air[i].Room.over(kind)/limit.PPM
		c.Near += near
		c.Room += room
		c.Parts = append(c.Parts, LimitPart{Solvent: solvent.Name, PPM: limit.PPM, Near: near, Source: limit.Source})
	}
	c.Above = c.Near > 1
	c.Sentence = c.sentence()
	return c
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
	if !c.Above {
		text += "; this is an estimate, not a measurement, and says nothing of those who are sensitive"
	}
	if len(c.Without) > 0 {
		text += "; no such limit is held for " + list(c.Without) + ", so the sum is too low"
	}
	return text + "."
}
