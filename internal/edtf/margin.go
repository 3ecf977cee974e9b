package edtf

// A date that is uncertain or approximate may mean days beyond those of its
// text. How far, no standard says. Period reckons with one unit of its own
// precision each way: "about 1988" is 1987 to 1989, "about May 1990" is April to
// June. That is common practice, and a choice of this project. A qualified end
// of an interval has the margin on its own side.

// Qualified tells whether d, or an end of it, carries a mark that widens its
// period.
func (d Date) Qualified() bool { return d.Uncertain() || d.Approximate() }

// Period is the days that d may mean, those of its margin included.
func (d Date) Period() Period { return Period{From: d.start.from(), To: d.end.to()} }

func (p point) qualified() bool { return p.uncertain || p.approximate }

// from is the first day of the side with its margin.
func (p point) from() Day {
	if !p.qualified() || p.first.IsZero() {
		return p.first
	}
	first := p.first
	switch p.precision {
	case ToYear:
		first.Year--
	case ToMonth:
		first = first.AddDays(-1)
		first.Day = 1
	default:
		first = first.AddDays(-1)
	}
	if first.Year < 1 {
		return Day{1, 1, 1}
	}
	return first
}

// to is the last day of the side with its margin.
func (p point) to() Day {
	if !p.qualified() || p.last.IsZero() {
		return p.last
	}
	last := p.last
	switch p.precision {
	case ToYear:
		last.Year++
	case ToMonth:
		last = last.AddDays(1)
		last.Day = daysIn(last.Year, last.Month)
	default:
		last = last.AddDays(1)
	}
	if last.Year > maxYear {
		return Day{maxYear, 12, 31}
	}
	return last
}
