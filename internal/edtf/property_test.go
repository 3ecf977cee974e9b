package edtf_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"meniscus/internal/edtf"
)

func drawDay(t *rapid.T, label string) edtf.Day {
	days := rapid.IntRange(0, 3_652_058).Draw(t, label)
	return edtf.DayOf(time.Date(1, 1, 1+days, 0, 0, 0, 0, time.UTC))
}

// drawText writes some form of a date that contains day.
func drawText(t *rapid.T, day edtf.Day, label string) string {
	mark := rapid.SampledFrom([]string{"", "?", "~", "%"}).Draw(t, label+" mark")
	texts := []string{
		day.String() + mark,
		day.String()[:7] + mark,
		day.String()[:4] + mark,
		day.String() + "T09:30:00Z",
		day.String()[:7] + "-XX",
		day.String()[:4] + "-XX",
	}
	if day.Year >= 100 {
		texts = append(texts, day.String()[:3]+"X", day.String()[:2]+"XX")
	}
	return rapid.SampledFrom(texts).Draw(t, label)
}

func TestParseGivesBackTheTextAndHoldsTheDay(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		day := drawDay(t, "day")
		text := drawText(t, day, "text")
		d, err := edtf.Parse(text)
		if err != nil {
			t.Fatalf("Parse(%q): %v", text, err)
		}
		if d.String() != text {
			t.Fatalf("got %q, want %q", d.String(), text)
		}
		if only := (edtf.Period{From: day, To: day}); !d.Period().Contains(only) {
			t.Fatalf("%s is not within %s", day, text)
		}
		checkBounds(t, d)
	})
}

func checkBounds(t interface{ Fatalf(string, ...any) }, d edtf.Date) {
	earliest, hasStart := d.Earliest()
	latest, hasEnd := d.Latest()
	if hasStart != (d.Start() == edtf.Stated) || hasEnd != (d.End() == edtf.Stated) {
		t.Fatalf("%s: an end is stated exactly when it has a day", d)
	}
	if !hasStart && !hasEnd {
		t.Fatalf("%s: has no end at all", d)
	}
	if hasStart && hasEnd && earliest.Compare(latest) > 0 {
		t.Fatalf("%s: earliest %s is after latest %s", d, earliest, latest)
	}
	for _, day := range []edtf.Day{earliest, latest} {
		if !day.IsZero() && (edtf.DayOf(day.Time()) != day || day.Year < 1 || day.Year > 9999) {
			t.Fatalf("%s: %v is no day of the years 0001 to 9999", d, day)
		}
	}
}

func TestIntervalIsReadExactlyWhenInOrder(t *testing.T) {
	t.Parallel()
	form := func(t *rapid.T, d edtf.Day, label string) string {
		n := rapid.SampledFrom([]int{4, 7, 10}).Draw(t, label)
		return d.String()[:n]
	}
	rapid.Check(t, func(t *rapid.T) {
		from := form(t, drawDay(t, "from"), "from form")
		to := form(t, drawDay(t, "to"), "to form")
		a, b := edtf.MustParse(from), edtf.MustParse(to)
		first, _ := a.Earliest()
		last, _ := b.Latest()
		d, err := edtf.Parse(from + "/" + to)
		if got, want := err == nil, first.Compare(last) <= 0; got != want {
			t.Fatalf("%s/%s read: got %v, want %v (%v)", from, to, got, want, err)
		}
		if err == nil && d.Period() != (edtf.Period{From: first, To: last}) {
			t.Fatalf("%s: got %v, want %s to %s", d, d.Period(), first, last)
		}
	})
}

func TestPeriodsAgreeWithDayByDayCounting(t *testing.T) {
	t.Parallel()
	const days = 12
	origin := edtf.Day{Year: 1999, Month: 12, Day: 27}
	draw := func(t *rapid.T, label string) (edtf.Period, [days]bool) {
		from := rapid.IntRange(0, days).Draw(t, label+" from")
		to := rapid.IntRange(0, days).Draw(t, label+" to")
		var p edtf.Period
		if from < days {
			p.From = origin.AddDays(from)
		} else {
			from = 0
		}
		if to < days {
			p.To = origin.AddDays(to)
		} else {
			to = days - 1
		}
		if from > to {
			p.From, p.To = p.To, p.From
			from, to = to, from
		}
		var in [days]bool
		for i := from; i <= to; i++ {
			in[i] = true
		}
		return p, in
	}
	rapid.Check(t, func(t *rapid.T) {
		p, inP := draw(t, "p")
		q, inQ := draw(t, "q")
		var share bool
		for i := range inP {
			share = share || (inP[i] && inQ[i])
		}
		if got := p.Overlaps(q); got != share || q.Overlaps(p) != share {
			t.Fatalf("%v overlaps %v: got %v, want %v", p, q, got, share)
		}
		if p.Contains(q) && !p.Overlaps(q) {
			t.Fatalf("%v contains %v without overlapping it", p, q)
		}
	})
}

func TestDayArithmetic(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		a, b := drawDay(t, "a"), drawDay(t, "b")
		n := a.DaysUntil(b)
		if got := a.AddDays(n); got != b {
			t.Fatalf("%s plus %d days: got %s, want %s", a, n, got, b)
		}
	})
}

func FuzzParse(f *testing.F) {
	for _, seed := range []string{"1985-04-12?", "2004-06-11?/2004-06-12~", "../1985", "1985-04-12T23:20:30+04:30",
		"201X", "2001-24", "/", "Y170000002"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		d, err := edtf.Parse(text)
		if err != nil {
			if err.Error() == "" || !d.IsZero() {
				t.Fatalf("%q: a refusal without words, or with a date", text)
			}
			return
		}
		if d.String() != text {
			t.Fatalf("got %q, want %q", d.String(), text)
		}
		if again, err := edtf.Parse(d.String()); err != nil || again != d {
			t.Fatalf("%q read twice: got %v and %v, %v", text, d, again, err)
		}
		checkBounds(t, d)
		_ = fmt.Sprint(d.Words(), d.Precision(), d.Level())
	})
}

// A set of level 2 is refused with a sentence about sets, whatever its length.
func TestSetsAreRefusedAsSets(t *testing.T) {
	for _, text := range []string{"[1667,1668, 1670..1672]", "{1960,1961-12}", "[..1760-12-03]", "1667,1668", "1984..1986",
		"[1667, 1668, 1669, 1670, 1671, 1672, 1673, 1674, 1675, 1676, 1677, 1678]"} {
		if _, err := edtf.Parse(text); err == nil || !strings.Contains(err.Error(), "Sets of dates") {
			t.Errorf("%s: got %v, want a sentence about sets", text, err)
		}
	}
}

// A season may be that of either half of the earth, and its text names the north's.
func TestASeasonMayBeOfEitherHemisphere(t *testing.T) {
	for text, want := range map[string][2]string{
		"1962-21": {"1962-03-01", "1962-11-30"},
		"1962-22": {"1962-06-01", "1963-02-28"},
		"1962-23": {"1962-03-01", "1962-11-30"},
		"1963-24": {"1963-06-01", "1964-02-29"},
		"9999-22": {"9999-06-01", "9999-12-31"},
	} {
		if p := edtf.MustParse(text).Period(); p.From.String() != want[0] || p.To.String() != want[1] {
			t.Errorf("%s: got %s to %s, want %s to %s", text, p.From, p.To, want[0], want[1])
		}
	}
}
