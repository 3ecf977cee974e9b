package edtf

import (
	"cmp"
	"fmt"
	"time"
)

// A Day is a calendar day of the proleptic Gregorian calendar. The zero Day is
// no day; in a Period it stands for "without limit".
type Day struct {
	Year, Month, Day int
}

// DayOf is the day on which t falls in t's own time zone.
func DayOf(t time.Time) Day {
	year, month, day := t.Date()
	return Day{year, int(month), day}
}

// Time is the start of d in UTC, which is how a date column carries a day.
func (d Day) Time() time.Time {
	return time.Date(d.Year, time.Month(d.Month), d.Day, 0, 0, 0, 0, time.UTC)
}

// IsZero tells whether d is no day.
func (d Day) IsZero() bool { return d == Day{} }

// String writes d as YYYY-MM-DD, and no day as nothing.
func (d Day) String() string {
	if d.IsZero() {
		return ""
	}
	return fmt.Sprintf("%04d-%02d-%02d", d.Year, d.Month, d.Day)
}

// Compare is -1, 0 or 1 as d is before, the same as or after e. No day comes
// before every day.
func (d Day) Compare(e Day) int {
	return cmp.Or(cmp.Compare(d.Year, e.Year), cmp.Compare(d.Month, e.Month), cmp.Compare(d.Day, e.Day))
}

// AddDays is the day n days after d.
func (d Day) AddDays(n int) Day { return DayOf(d.Time().AddDate(0, 0, n)) }

// DaysUntil is the number of days from d to e, negative if e comes first.
func (d Day) DaysUntil(e Day) int {
	return int((e.Time().Unix() - d.Time().Unix()) / (24 * 60 * 60))
}

// daysIn is the number of days in a month.
func daysIn(year, month int) int {
	return time.Date(year, time.Month(month)+1, 0, 0, 0, 0, 0, time.UTC).Day()
}

// A Period is a run of days, both ends included. A zero end is without limit,
// so the zero Period is all time.
type Period struct {
	From, To Day
}

// Overlaps tells whether p and q can share a day. An end without limit reaches
// everything, so a date whose end is unknown is not ruled out.
func (p Period) Overlaps(q Period) bool {
	return !p.EndsBefore(q) && !q.EndsBefore(p)
}

// Contains tells whether every day of q is certainly one of p's.
func (p Period) Contains(q Period) bool {
	from := p.From.IsZero() || (!q.From.IsZero() && p.From.Compare(q.From) <= 0)
	to := p.To.IsZero() || (!q.To.IsZero() && q.To.Compare(p.To) <= 0)
	return from && to
}

// EndsBefore tells whether p is certainly over before q begins.
func (p Period) EndsBefore(q Period) bool {
	return !p.To.IsZero() && !q.From.IsZero() && p.To.Compare(q.From) < 0
}
