package edtf

import "fmt"

var monthNames = [...]string{"", "January", "February", "March", "April", "May", "June",
	"July", "August", "September", "October", "November", "December"}

// Words says d in plain English, for sheets and sentences.
func (d Date) Words() string {
	switch {
	case d.IsZero():
		return "no date"
	case !d.interval:
		return d.start.words()
	case d.start.edge == Open:
		return "any time up to " + d.end.words()
	case d.start.edge == Unknown:
		return "from an unknown date to " + d.end.words()
	case d.end.edge == Open:
		return "from " + d.start.words() + " on"
	case d.end.edge == Unknown:
		return "from " + d.start.words() + " to an unknown date"
	}
	return "from " + d.start.words() + " to " + d.end.words()
}

func (p point) words() string {
	switch plain := p.plainWords(); {
	case p.uncertain && p.approximate:
		return "possibly about " + plain
	case p.uncertain:
		return "possibly " + plain
	case p.approximate:
		return "about " + plain
	default:
		return plain
	}
}

func (p point) plainWords() string {
	d := p.first
	switch {
	case p.precision == ToCentury, p.precision == ToDecade && d.Year%100 == 0:
		return fmt.Sprintf("%d to %d", d.Year, p.last.Year)
	}
	switch p.precision {
	case ToDecade:
		return fmt.Sprintf("the %ds", d.Year)
	case ToYear:
		return fmt.Sprintf("%d", d.Year)
	case ToSeason:
		return fmt.Sprintf("%s %d", [...]string{"spring", "summer", "autumn", "winter"}[d.Month/3-1], d.Year)
	case ToMonth:
		return fmt.Sprintf("%s %d", monthNames[d.Month], d.Year)
	}
	return fmt.Sprintf("%d %s %d", d.Day, monthNames[d.Month], d.Year)
}
