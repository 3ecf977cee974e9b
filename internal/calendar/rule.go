// Package calendar tells when a rule such as "every first Monday at seven, by the
// clock of the museum" occurs next, and which days the period before that covers.
//
// A rule is a subset of the recurrence rule of RFC 5545 (section 3.3.10): FREQ
// DAILY, WEEKLY, MONTHLY or YEARLY with INTERVAL, BYMONTH, BYMONTHDAY, BYDAY and
// BYSETPOS; weeks begin on Monday. A rule with an unsupported part is refused,
// never read in part.
//
// It promises that a day which a month does not have (30 February) is skipped, as
// RFC 5545 says; that of a time which the clocks repeat the first is taken; and
// that a time which the clocks skip is taken with the offset before the change
// (RFC 5545, section 3.3.5: 02:30 becomes 03:30). Section 3.3.10 would skip such a
// time; this package departs from it, so that no report is missed.
//
// It knows no clock and no zones of its own: moments and locations are handed in.
package calendar

import (
	"slices"
	"strconv"
	"strings"
	"time"

	"meniscus/internal/fault"
)

// Freq is the unit in which a rule counts.
type Freq string

// The units.
const (
	Daily   Freq = "DAILY"
	Weekly  Freq = "WEEKLY"
	Monthly Freq = "MONTHLY"
	Yearly  Freq = "YEARLY"
)

// Rule is when something recurs.
type Rule struct {
	Freq       Freq
	Interval   int          // every n units, from that of the start
	ByMonth    []time.Month // none: every month
	ByMonthDay []int        // 1 to 31, or −1 for the last to −31
	ByDay      []Day
	BySetPos   []int // of the days that the others give in one unit: 1 the first, −1 the last
}

// Day is a day of the week, in a month perhaps the first (1) or the last (−1).
type Day struct {
	Ordinal int // 0: each
	Weekday time.Weekday
}

var weekdays = map[string]time.Weekday{
	"MO": time.Monday, "TU": time.Tuesday, "WE": time.Wednesday, "TH": time.Thursday, "FR": time.Friday,
	"SA": time.Saturday, "SU": time.Sunday,
}

const maxInterval = 999

// Parse reads a rule as RFC 5545 writes it, or says what is wrong with it.
func Parse(text string) (Rule, error) {
	r := Rule{Interval: 1}
	said := map[string]bool{}
	for _, part := range strings.Split(text, ";") {
		name, value, _ := strings.Cut(part, "=")
		name = strings.ToUpper(name)
		if said[name] {
			return Rule{}, wrong("%s stands twice", name)
		}
		said[name] = true
		if err := r.read(name, strings.ToUpper(value)); err != nil {
			return Rule{}, err
		}
	}
	return r, r.check()
}

func wrong(format string, args ...any) error {
	return fault.New("rule-not-taken", "", format+"; write a rule such as FREQ=MONTHLY;BYDAY=1MO, with FREQ "+
		"(DAILY, WEEKLY, MONTHLY or YEARLY), INTERVAL, BYMONTH, BYMONTHDAY, BYDAY and BYSETPOS.", args...)
}

func (r *Rule) read(name, value string) (err error) {
	switch name {
	case "FREQ":
		r.Freq = Freq(value)
		if !slices.Contains([]Freq{Daily, Weekly, Monthly, Yearly}, r.Freq) {
			return wrong("FREQ is not one of those offered")
		}
	case "INTERVAL":
		var list []int
		if list, err = numbers(name, value, 1, maxInterval); err == nil {
			r.Interval = list[0]
		}
		if len(list) > 1 {
			return wrong("INTERVAL is one number")
		}
	case "BYMONTH":
		var list []int
		list, err = numbers(name, value, 1, 12)
		for _, n := range list {
			r.ByMonth = append(r.ByMonth, time.Month(n))
		}
	case "BYMONTHDAY":
		r.ByMonthDay, err = numbers(name, value, -31, 31)
	case "BYSETPOS":
		r.BySetPos, err = numbers(name, value, -366, 366)
	case "BYDAY":
		r.ByDay, err = days(value)
	case "WKST":
		if value != "MO" {
			return wrong("weeks begin on Monday here")
		}
	default:
		return wrong("a part of the rule is not offered")
	}
	return err
}

// numbers reads a list of whole numbers that are not 0.
func numbers(name, value string, low, high int) ([]int, error) {
	var list []int
	for _, text := range strings.Split(value, ",") {
		n, err := strconv.Atoi(text)
		if err != nil || n == 0 || n < low || n > high {
			return nil, wrong("%s has a number outside %d to %d, or what is no number", name, low, high)
		}
		list = append(list, n)
	}
	return list, nil
}

func days(value string) ([]Day, error) {
	var list []Day
	for _, text := range strings.Split(value, ",") {
		cut := max(len(text)-2, 0)
		day, ok := weekdays[text[cut:]]
		if !ok {
			return nil, wrong("BYDAY has what is no day of MO, TU, WE, TH, FR, SA, SU")
		}
		d := Day{Weekday: day}
		if cut > 0 {
			n, err := numbers("BYDAY", text[:cut], -5, 5)
			if err != nil {
				return nil, err
			}
			d.Ordinal = n[0]
		}
		list = append(list, d)
	}
	return list, nil
}

// check refuses combinations that RFC 5545 forbids or that are not offered.
func (r Rule) check() error {
	ordinal := slices.ContainsFunc(r.ByDay, func(d Day) bool { return d.Ordinal != 0 })
	switch {
	case r.Freq == "":
		return wrong("FREQ is missing")
	case r.Freq == Weekly && len(r.ByMonthDay) > 0:
		return wrong("BYMONTHDAY does not go with WEEKLY")
	case ordinal && r.Freq != Monthly && r.Freq != Yearly:
		return wrong("a number before a day goes with MONTHLY and YEARLY alone")
	case r.Freq == Yearly && len(r.ByDay) > 0 && len(r.ByMonth) == 0:
		return wrong("YEARLY with BYDAY needs BYMONTH here")
	case len(r.BySetPos) > 0 && len(r.ByMonth)+len(r.ByMonthDay)+len(r.ByDay) == 0:
		return wrong("BYSETPOS needs another part that gives several days")
	}
	return nil
}
