package edtf

import (
	"regexp"
	"strings"

	"meniscus/internal/fault"
)

// The codes of refusals.
const (
	CodeEmpty       = "date-empty"
	CodeTooLong     = "date-too-long"
	CodeNotADate    = "date-not-understood"
	CodeNoSuchDay   = "date-does-not-exist"
	CodeNoSuchTime  = "time-does-not-exist"
	CodeYear        = "date-year-out-of-range"
	CodeLevelTwo    = "date-level-two"
	CodeReversed    = "date-interval-reversed"
	CodeSaysNothing = "date-interval-says-nothing"
)

// refuse makes a fault that concerns the whole text: its pointer is empty.
func refuse(code, format string, args ...any) *fault.Fault {
	return fault.New(code, "", format, args...)
}

const (
	minYear = 1
	maxYear = 9999
)

// setOfDates is a set of level 2: [one of these] or {all of these}.
var setOfDates = regexp.MustCompile(`^\s*[\[{]|\d\.\.\d|\d,\s*\d`)

// shortRange is a range of years of which the second has two digits.
var shortRange = regexp.MustCompile(`^\d{4}/\d{2}$`)

func refuseOutside(text string) *fault.Fault {
	switch {
	case text == "":
		return refuse(CodeEmpty, "The date is empty; leave the field out, or answer it with \"unknown\".")
	case strings.ContainsAny(text, "[{.,") && setOfDates.MatchString(text):
		return refuse(CodeLevelTwo, "Sets of dates, of which one or all are meant, belong to level 2, which is not read; "+
			"write an interval from the first to the last, and the choice in words.")
	case shortRange.MatchString(text):
		return refuse(CodeNotADate, "Both years of a range have four digits, as in 1978/1979 for 1978/79.")
	case len(text) > MaxLength:
		return refuse(CodeTooLong, "A date has at most %d characters.", MaxLength)
	case strings.TrimSpace(text) != text:
		return refuse(CodeNotADate, "The date has spaces around it; take them away.")
	case text == "..":
		return refuse(CodeSaysNothing, "An open date alone says nothing; give the other end too, as in 1985/.. or ../1985.")
	}
	return nil
}

func refuseYear(year int) *fault.Fault {
	if year < minYear || year > maxYear {
		return refuse(CodeYear, "The date reaches outside the years 0001 to 9999, which are the years that are kept.")
	}
	return nil
}

func refuseMonth(year, month int) *fault.Fault {
	if month < 1 || month > 12 {
		return refuse(CodeNoSuchDay,
			"There is no month of that number; months run from 01 to 12, and seasons from 21 (spring) to 24 (winter).")
	}
	return refuseYear(year)
}

func refuseDay(d Day) *fault.Fault {
	if refusal := refuseMonth(d.Year, d.Month); refusal != nil {
		return refusal
	}
	if last := daysIn(d.Year, d.Month); d.Day < 1 || d.Day > last {
		return refuse(CodeNoSuchDay,
			"There is no such day: the days of that month run from 01 to %d. If only the month is sure, leave the "+
				"day out, as in 2004-02.", last)
	}
	return nil
}

// A hint recognises a text that is not accepted and says what to write.
type hint struct {
	pattern *regexp.Regexp
	code    string
	detail  string
}

// intervalHints are for texts that may stand alone but not in an interval.
var intervalHints = []hint{
	{regexp.MustCompile(`^\d{1,2}$`), CodeNotADate,
		"A day is written year first and with hyphens, as in 1985-04-12."},
	{regexp.MustCompile(`^\d{4}-\d{2}-\d{2}T`), CodeNotADate,
		"An end of an interval is a day, without a time of day; leave out the T and what follows it."},
	{regexp.MustCompile(`^\d{4}-2[1-4]`), CodeLevelTwo,
		"A season cannot be an end of an interval; write its first or last month, as in 2001-03/2001-08."},
	{regexp.MustCompile(`X`), CodeLevelTwo,
		"Unspecified digits cannot stand in an interval; write the part that is known, as in 2004-06/2004-07-03."},
	{regexp.MustCompile(`/`), CodeNotADate,
		"An interval has two ends with one / between them, as in 1984/2004-06; a day is written 1985-04-12."},
}

var hints = []hint{
	{regexp.MustCompile(`^Y-?\d{5,}$|^-\d{4}(-\d{2}(-\d{2})?)?[?~%]?$`), CodeYear,
		"The date reaches outside the years 0001 to 9999, which are the years that are kept."},
	{regexp.MustCompile(`^Y?-?\d+[ES]\d+`), CodeLevelTwo,
		"Exponents and significant digits belong to level 2, which is not read; write the range of years as an " +
			"interval, as in 1950/1959."},
	{regexp.MustCompile(`^\d{4}-(2[5-9]|3\d|4[01])$`), CodeLevelTwo,
		"Hemispheres, quarters and other parts of a year belong to level 2, which is not read; write the months as " +
			"an interval, as in 2001-09/2001-11."},
	{regexp.MustCompile(`^[\dX-]*X[\dX-]*[?~%]$|^\d{4}-2[1-4][?~%]$`), CodeLevelTwo,
		"A season or unspecified digits cannot be qualified as well; write an interval with the mark on its ends, as " +
			"in 2010?/2019?."},
	{regexp.MustCompile(`^[\dX?~%-]*X[\dX?~%-]*$`), CodeLevelTwo,
		"Only digits at the right can be unspecified, and only as 201X, 20XX, 2004-XX, 2004-XX-XX or 1985-04-XX; the " +
			"rest belongs to level 2, which is not read."},
	{regexp.MustCompile(`^[?~%]\d{4}|^\d{4}[\d-]*[?~%][\d?~%-]+$`), CodeLevelTwo,
		"A mark of doubt (? uncertain, ~ approximate, % both) stands once, at the end, and covers the whole date; " +
			"marks on parts of a date belong to level 2, which is not read."},
	{regexp.MustCompile(`^\d{4}-\d{2}-\d{2}T`), CodeNotADate,
		"A time of day is written in full after the day, as in 1985-04-12T23:20:30Z or 1985-04-12T23:20:30+02:00, " +
			"or left out."},
	{regexp.MustCompile(`^\d{4}-\d{4}$`), CodeNotADate,
		"A range of years is written with a stroke, as in 1985/1990."},
	{regexp.MustCompile(`^\d{4}-\d{1,2}-\d{1,2}$|^\d{4}-\d$|^\d{8}$`), CodeNotADate,
		"Year, month and day have four, two and two digits with hyphens between them, as in 1985-04-12."},
	{regexp.MustCompile(`^\d{3}\?$`), CodeNotADate,
		"A digit that is not known is written X, as in 196X for 196?."},
	{regexp.MustCompile(`^\d{4}s$`), CodeNotADate,
		"A decade is written with an X for its last digit, as in 195X for the 1950s."},
	{regexp.MustCompile(`(?i)^(c|ca|circa|about)\b`), CodeNotADate,
		"An approximate date carries a tilde at the end, as in 1985~."},
	{regexp.MustCompile(`(?i)spring|summer|autumn|fall|winter`), CodeNotADate,
		"A season is written as a number after the year: 2002-21 spring, -22 summer, -23 autumn, -24 winter."},
}

// explain finds the reason for a text that no form accepts.
func explain(text string, inInterval bool) *fault.Fault {
	lists := [][]hint{hints}
	if inInterval {
		lists = [][]hint{intervalHints, hints}
	}
	for _, list := range lists {
		for _, h := range list {
			if h.pattern.MatchString(text) {
				return refuse(h.code, "%s", h.detail)
			}
		}
	}
	return refuse(CodeNotADate,
		"This is not a date in the Extended Date/Time Format; write 1985, 1985-04 or 1985-04-12, with ? if uncertain "+
			"and ~ if approximate, or an interval such as 1985/1990.")
}
