package edtf

// Hemisphere is a half of the earth, whose seasons a date may mean.
type Hemisphere string

// The halves of the earth.
const (
	Northern Hemisphere = "northern"
	Southern Hemisphere = "southern"
)

// InMonths is the date as text, a season as the months that it has on a half of the earth: the
// summer of 1962 is 1962-06/1962-08 in the north and 1962-12/1963-02 in the south.
func (d Date) InMonths(half Hemisphere) string {
	if d.Precision() != ToSeason || half == "" {
		return d.text
	}
	first, last := d.start.first, d.end.last // of the north
	if half == Southern {
		first, last = sameSeasonSouth(first, last)
	}
	return first.String()[:7] + "/" + last.String()[:7]
}

// sameSeasonSouth is half a year later, and half a year earlier for what would begin in
// the next calendar year.
func sameSeasonSouth(first, last Day) (Day, Day) {
	months := 6
	if first.Month > 6 {
		months = -6
	}
	move := func(d Day) Day {
		n := d.Year*12 + d.Month - 1 + months
		return Day{Year: n / 12, Month: n%12 + 1, Day: 1}
	}
	return move(first), move(last)
}
