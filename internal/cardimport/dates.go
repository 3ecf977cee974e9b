package cardimport

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"meniscus/internal/edtf"
)

// DateForm is a way in which the cards write dates.
type DateForm string

// The forms. They are tried in the order of the mapping, and the first that fits
// is taken: a day-first and a month-first form in one mapping contradict each
// other, and the first one wins.
const (
	EDTF          DateForm = "edtf"
	DayMonthYear  DateForm = "day-month-year"     // 12.4.1985, 12/04/85, 4/1985
	MonthDayYear  DateForm = "month-day-year"     // 4/12/1985
	YearMonthDay  DateForm = "year-month-day"     // 1985/4/12, 19850412
	SerialDay     DateForm = "spreadsheet-serial" // 31149, a spreadsheet's number of a day
	EnglishWords  DateForm = "english-words"      // 12 April 1985, spring 1962, ca. 1960, 1950s
	defaultOfNone          = EDTF
)

var (
	threeNumbers = regexp.MustCompile(`^(\d{1,4})\s*[./ -]\s*(\d{1,2})\s*[./ -]\s*(\d{1,4})\.?$`)
	yearMonth    = regexp.MustCompile(`^(\d{4})\s*[./ -]\s*(\d{1,2})$`)
	twoNumbers   = regexp.MustCompile(`^(\d{1,2})\s*[./ -]\s*(\d{4})$`)
	eightDigits  = regexp.MustCompile(`^(\d{4})(\d{2})(\d{2})$`)
	fourDigits   = regexp.MustCompile(`^\d{4}$`)
	fiveDigits   = regexp.MustCompile(`^\d{5}$`)
)

// readDate gives a date as the archive format writes it. A doubt mark or a
// "circa" around the date is kept as its qualifier.
func (m Mapping) readDate(text string) (string, error) {
	forms := m.Dates
	if len(forms) == 0 {
		forms = []DateForm{defaultOfNone}
	}
	if set := strings.TrimSpace(text); setOfDates.MatchString(set) {
		_, err := edtf.Parse(set)
		return "", err
	}
	if years := yearsInShort(strings.TrimSpace(text)); years != "" {
		return years, nil
	}
	plain, mark := doubtful(strings.TrimSpace(text))
	var failed error
	for _, form := range forms {
		candidate, fits, err := m.inForm(form, strings.TrimSpace(text), plain)
		if err != nil {
			failed = err
			continue
		}
		if !fits {
			continue
		}
		candidate = m.inMonths(candidate)
		if form != EDTF {
			candidate = qualify(candidate, mark)
		}
		d, err := edtf.Parse(candidate)
		if err == nil {
			return d.String(), nil
		}
		if failed == nil || form != EDTF {
			failed = err
		}
	}
	if failed == nil {
		failed = fmt.Errorf("the date has none of the forms that the mapping names")
	}
	return "", failed
}

// setOfDates is a list of dates in brackets, and no date in brackets.
var setOfDates = regexp.MustCompile(`^[\[{].*(,|\.\.).*[\]}]$`)

var (
	unknownDigits = regexp.MustCompile(`^\d{3}\?$|^\d{2}\?\?$`)
	twoYears      = regexp.MustCompile(`^(\d{2})(\d{2})/(\d{2})$`)
)

// yearsInShort reads 196? and 19?? as a decade and a century, and 1978/79 as both
// years, or gives "". 1978/12 may be a month and is left to the forms.
func yearsInShort(text string) string {
	if unknownDigits.MatchString(text) {
		return strings.ReplaceAll(text, "?", "X")
	}
	if f := twoYears.FindStringSubmatch(text); f != nil && f[3] > "12" && f[3] > f[2] {
		return f[1] + f[2] + "/" + f[1] + f[3]
	}
	return ""
}

// doubtful takes "ca." and a question mark off a date.
func doubtful(text string) (plain, mark string) {
	approximate, uncertain := false, false
	plain = circa.ReplaceAllStringFunc(text, func(string) string { approximate = true; return "" })
	if rest, ok := strings.CutSuffix(strings.TrimSpace(plain), "?"); ok {
		plain, uncertain = rest, true
	}
	plain = strings.Trim(strings.TrimSpace(plain), "()[] ")
	switch {
	case approximate && uncertain:
		mark = "%"
	case approximate:
		mark = "~"
	case uncertain:
		mark = "?"
	}
	return plain, mark
}

var circa = regexp.MustCompile(`(?i)^(circa|about|approx\.?|ca?\.?)\s+|^ca?\.\s*|^~\s*`)

// inMonths is a date, a season as the months that the mapping means.
func (m Mapping) inMonths(date string) string {
	d, err := edtf.Parse(date)
	if err != nil {
		return date
	}
	return d.InMonths(edtf.Hemisphere(m.Hemisphere))
}

// seasonMonths gives the first and last months of a season.
func seasonMonths(date string) (first, last string, season bool) {
	d, err := edtf.Parse(date)
	if err != nil || d.Precision() != edtf.ToSeason {
		return "", "", false
	}
	p := d.Period()
	return p.From.String()[:7], p.To.String()[:7], true
}

// qualify puts a mark on a date: on both ends of an interval, and on the first
// and last years or months of decades and seasons, which cannot carry one.
func qualify(date, mark string) string {
	if mark == "" {
		return date
	}
	if strings.HasSuffix(date, "X") && len(date) == 4 {
		first, last := strings.ReplaceAll(date, "X", "0"), strings.ReplaceAll(date, "X", "9")
		return first + mark + "/" + last + mark
	}
	if first, last, season := seasonMonths(date); season {
		return first + mark + "/" + last + mark
	}
	from, to, interval := strings.Cut(date, "/")
	if !interval {
		return date + mark
	}
	if from != "" && from != ".." {
		from += mark
	}
	if to != "" && to != ".." {
		to += mark
	}
	return from + "/" + to
}

// inForm reads a date by one form; fits is false if it has another form.
func (m Mapping) inForm(form DateForm, whole, plain string) (date string, fits bool, err error) {
	switch form {
	case EDTF:
		return whole, true, nil
	case SerialDay:
		if !fiveDigits.MatchString(plain) {
			return "", false, nil
		}
		return serialDay(plain), true, nil
	case EnglishWords:
		return m.english(plain)
	}
	if fourDigits.MatchString(plain) {
		return plain, true, nil
	}
	if f := twoNumbers.FindStringSubmatch(plain); f != nil && form != YearMonthDay {
		return f[2] + "-" + twoDigits(f[1]), true, nil
	}
	if f := yearMonth.FindStringSubmatch(plain); f != nil && form == YearMonthDay {
		return f[1] + "-" + twoDigits(f[2]), true, nil
	}
	if f := eightDigits.FindStringSubmatch(plain); f != nil && form == YearMonthDay {
		return f[1] + "-" + f[2] + "-" + f[3], true, nil
	}
	f := threeNumbers.FindStringSubmatch(plain)
	if f == nil {
		return "", false, nil
	}
	day, month, year := f[1], f[2], f[3]
	switch form {
	case MonthDayYear:
		day, month = month, day
	case YearMonthDay:
		day, year = year, day
	}
	return m.calendar(year, month, day)
}

// calendar composes a date; a day or month of more than two digits belongs to
// another form.
func (m Mapping) calendar(year, month, day string) (date string, fits bool, err error) {
	if len(day) > 2 || len(month) > 2 || len(year) == 3 || len(year) == 1 {
		return "", false, nil
	}
	full, err := m.year(year)
	if err != nil {
		return "", true, err
	}
	return full + "-" + twoDigits(month) + "-" + twoDigits(day), true, nil
}

func (m Mapping) year(text string) (string, error) {
	if len(text) == 4 {
		return text, nil
	}
	n, _ := strconv.Atoi(text)
	if m.CenturyFrom == 0 {
		return "", fmt.Errorf("the year has two digits, and the mapping does not say which century; set centuryFrom")
	}
	year := m.CenturyFrom/100*100 + n
	if year < m.CenturyFrom {
		year += 100
	}
	return fmt.Sprintf("%04d", year), nil
}

func twoDigits(text string) string {
	if len(text) == 1 {
		return "0" + text
	}
	return text
}

// serialDay counts days as spreadsheets do: day 1 is 1 January 1900, and 29
// February 1900, which did not exist, is counted, so that from March 1900 on the
// count is from 30 December 1899. Five digits are 1927 and later.
func serialDay(text string) string {
	n, _ := strconv.Atoi(text)
	return edtf.Day{Year: 1899, Month: 12, Day: 30}.AddDays(n).String()
}
