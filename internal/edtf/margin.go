package edtf

// A date that is uncertain or approximate may mean days beyond those of its text.
// No standard says how far. Period adds one unit of the date's own precision each
// way: "about 1988" is 1987 to 1989, "about May 1990" is April to June. That is
// common practice, and a choice of this project. A qualified end of an interval
// has the margin on its own side.
//
// A season does not say on which half of the earth it was, and may mean the months of
// either: spring and autumn are March to November, summer and winter June to the next
// February.

// Qualified tells whether d, or an end of it, carries a mark that widens its
// period.
func (d Date) Qualified() bool { return d.Uncertain() || d.Approximate() }

// Period is the days that d may mean, those of its margin included.
func (d Date) Period() Period {
	return Period{From: d.start.widened(d.start.first, -1), To: d.end.widened(d.end.last, 1)}
}

func (p point) qualified() bool { return p.uncertain || p.approximate }

// widened moves the first day of a side back (by -1), or its last day on (by 1), as far
// as its margin.
func (p point) widened(day Day, by int) Day {
	switch {
	case p.precision == ToSeason && !day.IsZero():
		return p.eitherHemisphere(by)
	case !p.qualified() || day.IsZero():
		return day
	case p.precision == ToYear:
		day.Year += by
	default:
		day = day.AddDays(by)
	}
	if p.precision == ToMonth {
		day.Day = 1
		if by > 0 {
			day.Day = daysIn(day.Year, day.Month)
		}
	}
	switch {
	case day.Year < 1:
		return Day{1, 1, 1}
	case day.Year > maxYear:
		return Day{maxYear, 12, 31}
	}
	return day
}

// eitherHemisphere is the first day (by -1) or the last (by 1) of the season of the
// north and that of the same name in the south, half a year apart.
func (p point) eitherHemisphere(by int) Day {
	year, month := p.first.Year, p.first.Month // 3, 6, 9 or 12
	if by < 0 {
		return Day{year, 6 - month%6, 1}
	}
	if month%6 == 3 {
		return Day{year, 11, 30}
	}
	if year == maxYear {
		return Day{maxYear, 12, 31}
	}
	return Day{year + 1, 2, daysIn(year+1, 2)}
}
