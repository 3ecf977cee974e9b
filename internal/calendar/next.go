package calendar

import (
	"slices"
	"time"
)

// Schedule is a rule with its beginning.
type Schedule struct {
	Rule  Rule
	Start time.Time // a wall clock's date and time; its location is ignored
	Zone  *time.Location
}

const lastYear = 9999

// cycle is the number of units in 400 years, after which the calendar repeats,
// weekdays included: a rule that gives no day in one cycle never gives one.
var cycle = map[Freq]int{Daily: 146_097, Weekly: 20_871, Monthly: 4_800, Yearly: 400}

// Next is the first time after a moment, and whether there is one. The start
// itself counts if the rule gives it.
func (s Schedule) Next(after time.Time) (time.Time, bool) {
	if s.Rule.impossible() {
		return time.Time{}, false
	}
	first := s.unitBefore(after)
	for unit := first; unit <= first+cycle[s.Rule.Freq]; unit++ {
		days := s.days(unit)
		if len(days) > 0 && days[0].Year() > lastYear {
			break
		}
		for _, day := range days {
			if at := s.at(day); at.After(after) && !day.Before(midnight(s.Start)) {
				return at, true
			}
		}
	}
	return time.Time{}, false
}

// impossible tells that no month of the rule has any of its days, such as 30 February.
func (r Rule) impossible() bool {
	return len(r.ByMonth) > 0 && len(r.ByMonthDay) > 0 && !slices.ContainsFunc(r.ByMonth, func(m time.Month) bool {
		return slices.ContainsFunc(r.ByMonthDay,
			func(day int) bool { return max(day, -day) <= daysIn(time.Date(2000, m, 1, 0, 0, 0, 0, time.UTC)) })
	})
}

// Between are the times after one moment and not after another, at most limit of
// them, the latest ones; dropped is how many earlier ones there were.
func (s Schedule) Between(after, until time.Time, limit int) (times []time.Time, dropped int) {
	for {
		at, ok := s.Next(after)
		if !ok || at.After(until) {
			return times, dropped
		}
		times, after = append(times, at), at
		if len(times) > limit {
			times, dropped = times[1:], dropped+1
		}
	}
}

// unitBefore is a unit that is certainly not later than that of a moment.
func (s Schedule) unitBefore(after time.Time) int {
	start, then := midnight(s.Start), midnight(after.In(s.Zone))
	if !then.After(start) {
		return 0
	}
	units := 0
	switch s.Rule.Freq {
	case Daily:
		units = daysBetween(start, then)
	case Weekly:
		units = daysBetween(start, then) / 7
	case Monthly:
		units = 12*(then.Year()-start.Year()) + int(then.Month()-start.Month())
	case Yearly:
		units = then.Year() - start.Year()
	}
	return max(0, units/s.Rule.Interval-1)
}

// daysBetween counts days; a Duration would not reach over 292 years.
func daysBetween(first, last time.Time) int {
	return int((last.Unix() - first.Unix()) / (24 * 60 * 60))
}

// midnight is a date as a moment without a zone.
func midnight(t time.Time) time.Time {
	return time.Date(t.Year(), t.Month(), t.Day(), 0, 0, 0, 0, time.UTC)
}

// days are the days of the nth unit after the start's, in order.
func (s Schedule) days(n int) []time.Time {
	r, start := s.Rule, midnight(s.Start)
	var days []time.Time
	switch n *= r.Interval; r.Freq {
	case Daily:
		days = []time.Time{start.AddDate(0, 0, n)}
	case Weekly:
		monday := start.AddDate(0, 0, 7*n-(int(start.Weekday())+6)%7)
		for d := range 7 {
			days = append(days, monday.AddDate(0, 0, d))
		}
	case Monthly:
		days = monthOf(time.Date(start.Year(), start.Month()+time.Month(n), 1, 0, 0, 0, 0, time.UTC))
	case Yearly:
		for m := time.January; m <= time.December; m++ {
			if len(r.ByMonth) > 0 && !slices.Contains(r.ByMonth, m) {
				continue
			}
			days = append(days, monthOf(time.Date(start.Year()+n, m, 1, 0, 0, 0, 0, time.UTC))...)
		}
	}
	return r.positions(slices.DeleteFunc(days, func(d time.Time) bool { return !r.gives(d, start) }))
}

func monthOf(first time.Time) []time.Time {
	var days []time.Time
	for d := first; d.Month() == first.Month(); d = d.AddDate(0, 0, 1) {
		days = append(days, d)
	}
	return days
}

// gives tells whether a day of a unit is one of the rule's. What the rule does
// not say is taken from the start.
func (r Rule) gives(d, start time.Time) bool {
	named := len(r.ByMonthDay) > 0 || len(r.ByDay) > 0
	switch {
	case r.Freq == Weekly && len(r.ByDay) == 0 && d.Weekday() != start.Weekday(),
		(r.Freq == Monthly || r.Freq == Yearly) && !named && d.Day() != start.Day(),
		r.Freq == Yearly && !named && len(r.ByMonth) == 0 && d.Month() != start.Month(),
		len(r.ByMonth) > 0 && !slices.Contains(r.ByMonth, d.Month()):
		return false
	}
	return r.givesMonthDay(d) && (len(r.ByDay) == 0 || slices.ContainsFunc(r.ByDay, func(x Day) bool { return x.is(d) }))
}

func (r Rule) givesMonthDay(d time.Time) bool {
	return len(r.ByMonthDay) == 0 || slices.Contains(r.ByMonthDay, d.Day()) ||
		slices.Contains(r.ByMonthDay, d.Day()-daysIn(d)-1)
}

func daysIn(d time.Time) int { return time.Date(d.Year(), d.Month()+1, 0, 0, 0, 0, 0, time.UTC).Day() }

// is tells whether a date is this day of the week, and that one of its month.
func (x Day) is(d time.Time) bool {
	if d.Weekday() != x.Weekday {
		return false
	}
	return x.Ordinal == 0 || x.Ordinal == (d.Day()-1)/7+1 || x.Ordinal == -((daysIn(d)-d.Day())/7+1)
}

// positions picks days of a unit by their place among them.
func (r Rule) positions(days []time.Time) []time.Time {
	if len(r.BySetPos) == 0 {
		return days
	}
	var picked []time.Time
	for i, d := range days {
		if slices.Contains(r.BySetPos, i+1) || slices.Contains(r.BySetPos, i-len(days)) {
			picked = append(picked, d)
		}
	}
	return picked
}

// at is the moment at which the zone's clocks show the start's time on a day. It
// has the offset of a day before or of a day after (two changes within two days
// are not known to have happened).
func (s Schedule) at(day time.Time) time.Time {
	wall := day.Add(time.Duration(s.Start.Hour())*time.Hour + time.Duration(s.Start.Minute())*time.Minute)
	before, after := s.with(wall, -24*time.Hour), s.with(wall, 24*time.Hour)
	switch {
	case s.shows(before, wall) && s.shows(after, wall):
		return earlier(before, after)
	case s.shows(after, wall):
		return after
	}
	return before
}

// with is a wall clock's time with the zone's offset at a moment some hours away.
func (s Schedule) with(wall time.Time, away time.Duration) time.Time {
	_, offset := wall.Add(away).In(s.Zone).Zone()
	return wall.Add(-time.Duration(offset) * time.Second)
}

func (s Schedule) shows(t, wall time.Time) bool {
	_, offset := t.In(s.Zone).Zone()
	return t.Add(time.Duration(offset) * time.Second).Equal(wall)
}

func earlier(a, b time.Time) time.Time {
	if b.Before(a) {
		return b
	}
	return a
}

// Unit is a period's length.
type Unit string

// The periods.
const (
	PreviousDay     Unit = "previous-day"
	PreviousWeek    Unit = "previous-week" // Monday to Sunday
	PreviousMonth   Unit = "previous-month"
	PreviousQuarter Unit = "previous-quarter"
	PreviousYear    Unit = "previous-year"
)

// Days are the first and the last day of the last whole unit before a moment, by
// a zone's calendar, as dates without a zone.
func (u Unit) Days(at time.Time, zone *time.Location) (first, last time.Time) {
	today := midnight(at.In(zone))
	y, m := today.Year(), today.Month()
	month := func(m time.Month) time.Time { return time.Date(y, m, 1, 0, 0, 0, 0, time.UTC) }
	switch u {
	case PreviousDay:
		return today.AddDate(0, 0, -1), today.AddDate(0, 0, -1)
	case PreviousWeek:
		monday := today.AddDate(0, 0, -(int(today.Weekday())+6)%7)
		return monday.AddDate(0, 0, -7), monday.AddDate(0, 0, -1)
	case PreviousMonth:
		return month(m - 1), month(m).AddDate(0, 0, -1)
	case PreviousQuarter:
		quarter := (m-1)/3*3 + 1
		return month(quarter - 3), month(quarter).AddDate(0, 0, -1)
	case PreviousYear:
		return month(time.January - 12), month(time.January).AddDate(0, 0, -1)
	}
	return time.Time{}, time.Time{}
}
