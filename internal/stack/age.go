package stack

import (
	"meniscus/internal/edtf"
	"meniscus/internal/material"
)

// Settings are the values that an institution may choose; none is from a
// published source. The zero Settings stands for Defaults.
type Settings struct {
	// FreshYears: a film that is certainly younger than this counts as fresh, any
	// other as aged. The tables say fresh and aged without a number; this is
	// common practice and errs on the side of aged.
	FreshYears float64
	// BarrierDays is how long a barrier or a loaded joint must have dried before
	// something relies on it. Common practice.
	BarrierDays float64
	// JointDays is how long a solvent-set joint dries until it carries load:
	// recalled as one to two weeks; the longer is taken.
	JointDays float64
	// SublimationDays is after how long an open layer of cyclododecane should have
	// sublimed. 0.03 mm a day is published for a film; a year leaves a wide margin
	// for melts and pores. Common practice.
	SublimationDays float64
}

// Defaults are the settings of an institution that chose none.
var Defaults = Settings{FreshYears: 5, BarrierDays: 7, JointDays: 14, SublimationDays: 365}

// orDefaults fills what is zero.
func (s Settings) orDefaults() Settings {
	fill := func(x *float64, d float64) {
		if *x <= 0 {
			*x = d
		}
	}
	fill(&s.FreshYears, Defaults.FreshYears)
	fill(&s.BarrierDays, Defaults.BarrierDays)
	fill(&s.JointDays, Defaults.JointDays)
	fill(&s.SublimationDays, Defaults.SublimationDays)
	return s
}

// span is how many days lie between a period and a day: at least and at most.
// Known is false where the period lacks the bounds for it.
type span struct {
	least, most           float64
	leastKnown, mostKnown bool
}

// since measures from a period to a day.
func since(when edtf.Period, at edtf.Day) span {
	var s span
	if at.IsZero() {
		return s
	}
	if !when.To.IsZero() {
		s.least, s.leastKnown = max(0, float64(when.To.DaysUntil(at))), true
	}
	if !when.From.IsZero() {
		s.most, s.mostKnown = max(0, float64(when.From.DaysUntil(at))), true
	}
	return s
}

// certainlyLess tells whether fewer than days passed, whatever the true date.
func (s span) certainlyLess(days float64) bool { return s.mostKnown && s.most < days }

// certainlyAtLeast tells whether days passed, whatever the true date.
func (s span) certainlyAtLeast(days float64) bool { return s.leastKnown && s.least >= days }

const daysInYear = 365.25

// Ageing is whether a film counts as fresh or as aged.
type Ageing string

const (
	Young     Ageing = "fresh"
	Old       Ageing = "aged"
	AgeUnsure Ageing = "unknown"
)

// ageing classes a layer by its dates.
func (s Settings) ageing(when edtf.Period, at edtf.Day) Ageing {
	passed := since(when, at)
	switch {
	case passed.certainlyLess(s.FreshYears * daysInYear):
		return Young
	case passed.certainlyAtLeast(s.FreshYears * daysInYear):
		return Old
	}
	return AgeUnsure
}

// asked is the age with which the tables are queried.
func (a Ageing) asked() material.Age {
	switch a {
	case Young:
		return material.Fresh
	case Old:
		return material.Aged
	}
	return material.AnyAge
}
