package edtf

import (
	"regexp"
	"strconv"
	"strings"

	"meniscus/internal/fault"
)

// A form is one way to write a date. Each pattern is anchored at both ends and
// its alternatives are grouped, so that no form matches only the beginning of
// another.
type form struct {
	pattern *regexp.Regexp
	read    func(m []string) (point, *fault.Fault)
}

// dateForms may stand alone and as an end of an interval.
var dateForms = []form{
	{regexp.MustCompile(`^(\d{4})([?~%]?)$`), readYear},
	{regexp.MustCompile(`^(\d{4})-(0\d|1\d)([?~%]?)$`), readMonth},
	{regexp.MustCompile(`^(\d{4})-(\d{2})-(\d{2})([?~%]?)$`), readDay},
}

// loneForms may only stand alone: inside an interval they belong to level 2,
// or, with a time of day, to no level.
var loneForms = []form{
	{regexp.MustCompile(`^(\d{4})-(2[1-4])$`), readSeason},
	{regexp.MustCompile(`^(\d{2})(XX)$`), readDecades},
	{regexp.MustCompile(`^(\d{3})(X)$`), readDecades},
	{regexp.MustCompile(`^(\d{4})-XX(?:-XX)?$`), readUnspecifiedMonth},
	{regexp.MustCompile(`^(\d{4})-(\d{2})-XX$`), readUnspecifiedDay},
	{regexp.MustCompile(`^(\d{4})-(\d{2})-(\d{2})T(\d{2}):(\d{2}):(\d{2})(?:Z|[+-](\d{2})(?::(\d{2}))?)?$`), readTime},
}

// Parse reads one date. A refusal is a *fault.Fault that tells how to mend
// the text; its pointer is empty, because the text is the whole input.
func Parse(text string) (Date, error) {
	d, refusal := parse(text)
	if refusal != nil {
		return Date{}, refusal
	}
	return d, nil
}

// MustParse is Parse for constants in the source code; it panics on a text that
// is no date.
func MustParse(text string) Date {
	d, err := Parse(text)
	if err != nil {
		panic(err)
	}
	return d
}

func parse(text string) (Date, *fault.Fault) {
	if refusal := refuseOutside(text); refusal != nil {
		return Date{}, refusal
	}
	if from, to, interval := strings.Cut(text, "/"); interval {
		return parseInterval(text, from, to)
	}
	p, refusal := parsePoint(text, dateForms, loneForms)
	if refusal != nil {
		return Date{}, refusal
	}
	return Date{text: text, start: p, end: p}, nil
}

func parseInterval(text, from, to string) (Date, *fault.Fault) {
	start, refusal := parseEnd(from)
	if refusal != nil {
		return Date{}, refusal
	}
	end, refusal := parseEnd(to)
	if refusal != nil {
		return Date{}, refusal
	}
	switch {
	case start.edge != Stated && end.edge != Stated:
		return Date{}, refuse(CodeSaysNothing,
			"An interval needs at least one end that is a date; where nothing is known, answer the field with \"unknown\".")
	case start.edge == Stated && end.edge == Stated && start.first.Compare(end.last) > 0:
		return Date{}, refuse(CodeReversed, "The interval ends before it begins; write the earlier date first.")
	}
	return Date{text: text, interval: true, start: start, end: end}, nil
}

func parseEnd(text string) (point, *fault.Fault) {
	switch text {
	case "":
		return point{edge: Unknown, level: 1}, nil
	case "..":
		return point{edge: Open, level: 1}, nil
	}
	return parsePoint(text, dateForms)
}

func parsePoint(text string, lists ...[]form) (point, *fault.Fault) {
	for _, forms := range lists {
		for _, f := range forms {
			if m := f.pattern.FindStringSubmatch(text); m != nil {
				return f.read(m)
			}
		}
	}
	return point{}, explain(text, len(lists) == 1)
}

func readYear(m []string) (point, *fault.Fault) {
	year := number(m[1])
	if refusal := refuseYear(year); refusal != nil {
		return point{}, refusal
	}
	return qualified(span(Day{year, 1, 1}, Day{year, 12, 31}, ToYear), m[2]), nil
}

func readMonth(m []string) (point, *fault.Fault) {
	year, month := number(m[1]), number(m[2])
	if refusal := refuseMonth(year, month); refusal != nil {
		return point{}, refusal
	}
	return qualified(wholeMonth(year, month), m[3]), nil
}

func readDay(m []string) (point, *fault.Fault) {
	day := Day{number(m[1]), number(m[2]), number(m[3])}
	if refusal := refuseDay(day); refusal != nil {
		return point{}, refusal
	}
	return qualified(span(day, day, ToDay), m[4]), nil
}

// readSeason takes the seasons as meteorologists of the northern hemisphere count
// them: spring is March to May, and the winter of a year is its December with the
// January and February that follow. The format leaves this to convention; other
// months must be written as months.
func readSeason(m []string) (point, *fault.Fault) {
	year, season := number(m[1]), number(m[2])
	if refusal := refuseYear(year); refusal != nil {
		return point{}, refusal
	}
	first := Day{year, 3*(season-21) + 3, 1}
	last := Day{year, first.Month + 2, 30}
	switch {
	case season == 24 && year == maxYear:
		return point{}, refuse(CodeYear, "That winter ends after the year 9999; only the years 0001 to 9999 are kept.")
	case season == 24:
		last = Day{year + 1, 2, daysIn(year+1, 2)}
	default:
		last.Day = daysIn(last.Year, last.Month)
	}
	return levelOne(span(first, last, ToSeason)), nil
}

func readDecades(m []string) (point, *fault.Fault) {
	known, size, precision := number(m[1]), 10, ToDecade
	if m[2] == "XX" {
		size, precision = 100, ToCentury
	}
	year := known * size
	if refusal := refuseYear(year); refusal != nil {
		return point{}, refusal
	}
	return levelOne(span(Day{year, 1, 1}, Day{year + size - 1, 12, 31}, precision)), nil
}

func readUnspecifiedMonth(m []string) (point, *fault.Fault) {
	p, refusal := readYear([]string{"", m[1], ""})
	return levelOne(p), refusal
}

func readUnspecifiedDay(m []string) (point, *fault.Fault) {
	p, refusal := readMonth([]string{"", m[1], m[2], ""})
	return levelOne(p), refusal
}

func readTime(m []string) (point, *fault.Fault) {
	p, refusal := readDay([]string{"", m[1], m[2], m[3], ""})
	if refusal != nil {
		return point{}, refusal
	}
	if number(m[4]) > 23 || number(m[5]) > 59 || number(m[6]) > 59 {
		return point{}, refuse(CodeNoSuchTime,
			"There is no such time of day; hours run from 00 to 23, minutes and seconds from 00 to 59.")
	}
	if number(m[7]) > 14 || number(m[8]) > 59 {
		return point{}, refuse(CodeNoSuchTime, "There is no such offset from UTC; offsets run from -14:00 to +14:00.")
	}
	p.precision = ToSecond
	return p, nil
}

func span(first, last Day, precision Precision) point {
	return point{first: first, last: last, precision: precision}
}

func wholeMonth(year, month int) point {
	return span(Day{year, month, 1}, Day{year, month, daysIn(year, month)}, ToMonth)
}

func levelOne(p point) point {
	p.level = 1
	return p
}

func qualified(p point, mark string) point {
	if mark == "" {
		return p
	}
	p.uncertain = mark != "~"
	p.approximate = mark != "?"
	return levelOne(p)
}

// number reads digits that a pattern has already checked; no digits are 0.
func number(digits string) int {
	n, _ := strconv.Atoi(digits)
	return n
}
