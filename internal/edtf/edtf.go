// Package edtf reads archival dates: levels 0 and 1 of the Extended Date/Time
// Format (ISO 8601-2:2019, in the profile of the Library of Congress
// specification of 4 February 2019).
//
// It promises that a date is given back as it was written, that its earliest
// and latest days are calendar days in the years 0001 to 9999 (both included,
// without a time zone), that an end which is open or unknown is never turned
// into a day, and that a refusal says what is wrong and what to write instead.
//
// The earliest and latest days are those of the text, whatever its qualifier
// (uncertain, approximate), and a season's are those of the north. The period that a
// date may mean is wider by a margin where it is qualified, and where it is a season
// (margin.go); comparisons of dates use the period.
//
// It does not read level 2, guess at other spellings, or use a clock or time
// zone: a date-time counts as the day that is written in it.
package edtf

import "cmp"

// MaxLength is the longest text that Parse reads, in bytes.
const MaxLength = 64

// A Date is one date, season, date-time or interval, as written. The zero Date
// is no date at all. Dates are values: they can be copied and compared with ==.
type Date struct {
	text       string
	interval   bool
	start, end point
}

// An Edge says what is known of one side of a date.
type Edge uint8

const (
	// Stated means that the side has a day.
	Stated Edge = iota
	// Open means that the side is without limit or still going on ("..").
	Open
	// Unknown means that there is a limit, but it is unknown (an empty side).
	Unknown
)

func (e Edge) String() string {
	return [...]string{"stated", "open", "unknown"}[e]
}

// Precision is how finely a date is stated, finest first.
type Precision uint8

const (
	ToSecond Precision = iota
	ToDay
	ToMonth
	ToSeason
	ToYear
	ToDecade
	ToCentury
)

func (p Precision) String() string {
	return [...]string{"second", "day", "month", "season", "year", "decade", "century"}[p]
}

// point is one side of an interval, or the whole of any other date.
type point struct {
	edge        Edge
	first, last Day
	precision   Precision
	level       uint8
	uncertain   bool
	approximate bool
}

// String gives the text exactly as it was written.
func (d Date) String() string { return d.text }

// IsZero tells whether d is no date at all.
func (d Date) IsZero() bool { return d.text == "" }

// Level is the lowest level of the format that can write d: 0 or 1.
func (d Date) Level() int { return int(max(d.start.level, d.end.level)) }

// Earliest is the first day that the text of d names; ok is false if there is none,
// because the start is open or unknown.
func (d Date) Earliest() (day Day, ok bool) {
	return d.start.first, !d.start.first.IsZero()
}

// Latest is the last day that the text of d names; ok is false if there is none,
// because the end is open or unknown.
func (d Date) Latest() (day Day, ok bool) {
	return d.end.last, !d.end.last.IsZero()
}

// Start tells whether the start is stated, open or unknown.
func (d Date) Start() Edge { return d.start.edge }

// End tells whether the end is stated, open or unknown.
func (d Date) End() Edge { return d.end.edge }

// Precision is how finely d is stated; of an interval, its coarser stated end.
func (d Date) Precision() Precision {
	switch {
	case d.start.edge != Stated:
		return d.end.precision
	case d.end.edge != Stated:
		return d.start.precision
	}
	return max(d.start.precision, d.end.precision)
}

// Uncertain tells whether d, or an end of it, carries ? or %.
func (d Date) Uncertain() bool { return d.start.uncertain || d.end.uncertain }

// Approximate tells whether d, or an end of it, carries ~ or % ("circa").
func (d Date) Approximate() bool { return d.start.approximate || d.end.approximate }

// NotBefore tells whether d certainly began on day or later.
func (d Date) NotBefore(day Day) bool {
	from := d.Period().From
	return !from.IsZero() && from.Compare(day) >= 0
}

// NotAfter tells whether d was certainly over on day.
func (d Date) NotAfter(day Day) bool {
	to := d.Period().To
	return !to.IsZero() && to.Compare(day) <= 0
}

// Compare orders dates for lists: by earliest day, then by latest, then by
// text. A date without an earliest day comes first, one without a latest day
// after all others that begin on the same day.
func Compare(a, b Date) int {
	return cmp.Or(
		a.start.first.Compare(b.start.first),
		compareLatest(a.end.last, b.end.last),
		cmp.Compare(a.text, b.text),
	)
}

func compareLatest(a, b Day) int {
	if a.IsZero() || b.IsZero() {
		return -a.Compare(b)
	}
	return a.Compare(b)
}
