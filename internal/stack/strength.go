package stack

import "meniscus/internal/quantity"

// Strength is how strong a solution was when it was used.
type Strength struct {
	Value    float64
	Standard float64 // its standard uncertainty, zero where none is known
	Unit     string
	Basis    string
	Origin   Origin
}

// Origin is how a strength is known.
type Origin string

const (
	Stated  Origin = "stated"  // the treatment's own record says it
	Weighed Origin = "weighed" // it is computed from the amounts that went into the batch, left it and were added
	OnLabel Origin = "label"   // a label says so
	Asked   Origin = "recipe"  // the recipe asked for it, and it was not measured
)

// saidBy tells how a strength is known, where the treatment's own record does not
// say it.
var saidBy = map[Origin]string{
	Weighed: " by the amounts that were measured", OnLabel: " by the label", Asked: " as the recipe asked",
}

// said is the strength in words, to three significant digits, with its expanded
// uncertainty where it has one.
func (s Strength) said() string {
	unit := s.Unit
	if unit == "" {
		unit = "%"
	}
	text := quantity.Digits(s.Value, 3)
	if s.Standard > 0 {
		text += " ± " + quantity.Digits(quantity.Coverage*s.Standard, 2)
	}
	return text + " " + unit + saidBy[s.Origin]
}

// most is the strength at the upper end of its expanded uncertainty.
func (s Strength) most() Strength {
	s.Value += quantity.Coverage * s.Standard
	return s
}
