package cardimport

import (
	"regexp"
	"strings"
)

var (
	dayMonthWords = regexp.MustCompile(`(?i)^(\d{1,2})(?:st|nd|rd|th)?\.?\s+([a-z]{3,9})\.?,?\s+(\d{4}|\d{2})$`)
	monthDayWords = regexp.MustCompile(`(?i)^([a-z]{3,9})\.?\s+(\d{1,2})(?:st|nd|rd|th)?,?\s+(\d{4})$`)
	monthWords    = regexp.MustCompile(`(?i)^([a-z]{3,9})\.?,?\s+(\d{4})$`)
	decadeWords   = regexp.MustCompile(`(?i)^(?:the\s+)?(\d{3})0'?s$`)
	centuryWords  = regexp.MustCompile(`(?i)^(\d{2})(?:st|nd|rd|th)\s+(?:century|c\.?)$`)
	rangeWords    = regexp.MustCompile(`(?i)^(\d{4})\s*(?:-|–|—|to|until)\s*(\d{4}|\d{2})$`)
	beforeWords   = regexp.MustCompile(`(?i)^(?:before|by|until|pre-?)\s*(\d{4})$`)
	afterWords    = regexp.MustCompile(`(?i)^(?:after|since|from|post-?)\s*(\d{4})$`)
)

var months = []string{"january", "february", "march", "april", "may", "june", "july", "august", "september", "october",
	"november", "december"}

var seasons = map[string]string{"spring": "21", "summer": "22", "autumn": "23", "fall": "23", "winter": "24"}

// english reads dates in English words. "Before 1960" includes 1960, because
// cards use it for the year in which something was first seen.
func (m Mapping) english(plain string) (date string, fits bool, err error) {
	if fourDigits.MatchString(plain) {
		return plain, true, nil
	}
	if f := dayMonthWords.FindStringSubmatch(plain); f != nil && month(f[2]) != "" {
		return m.calendar(f[3], month(f[2]), f[1])
	}
	if f := monthDayWords.FindStringSubmatch(plain); f != nil && month(f[1]) != "" {
		return m.calendar(f[3], month(f[1]), f[2])
	}
	if f := monthWords.FindStringSubmatch(plain); f != nil {
		if season, ok := seasons[strings.ToLower(f[1])]; ok {
			return f[2] + "-" + season, true, nil
		}
		if month(f[1]) != "" {
			return f[2] + "-" + month(f[1]), true, nil
		}
	}
	date = spanOfYears(plain)
	return date, date != "", nil
}

// spanOfYears reads decades, centuries and ranges of years, or gives "".
func spanOfYears(plain string) string {
	if f := decadeWords.FindStringSubmatch(plain); f != nil {
		return f[1] + "X"
	}
	if f := centuryWords.FindStringSubmatch(plain); f != nil {
		// The 19th century is 1801 to 1900.
		n := int(f[1][0]-'0')*10 + int(f[1][1]-'0')
		return fourFigures(n*100-99) + "/" + fourFigures(n*100)
	}
	if f := rangeWords.FindStringSubmatch(plain); f != nil {
		end := f[2]
		if len(end) == 2 {
			end = f[1][:2] + end
		}
		return f[1] + "/" + end
	}
	if f := beforeWords.FindStringSubmatch(plain); f != nil {
		return "/" + f[1]
	}
	if f := afterWords.FindStringSubmatch(plain); f != nil {
		return f[1] + "/"
	}
	return ""
}

func fourFigures(year int) string {
	digits := []byte("0000")
	for i := 3; i >= 0; i-- {
		digits[i] = byte('0' + year%10)
		year /= 10
	}
	return string(digits)
}

// month gives a month's two digits from its name or the name's first letters, or
// "". Three letters distinguish all months.
func month(name string) string {
	name = strings.ToLower(name)
	if name == "sept" {
		return "09"
	}
	for i, full := range months {
		if name == full || len(name) == 3 && strings.HasPrefix(full, name) {
			return fourFigures(i + 1)[2:]
		}
	}
	return ""
}
