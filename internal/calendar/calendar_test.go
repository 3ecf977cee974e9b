package calendar_test

import (
	_ "embed"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"meniscus/internal/calendar"
)

//go:embed testdata/dateutil.tsv
var dateutil string

// Every rule gives the days that an independent implementation of RFC 5545 gives.
func TestRulesGiveTheDaysOfAnotherImplementation(t *testing.T) {
	t.Parallel()
	for line := range strings.Lines(dateutil) {
		if strings.HasPrefix(line, "#") {
			continue
		}
		column := strings.Split(strings.TrimSpace(line), "\t")
		s := schedule(t, column[0], column[1]+"T09:00", "UTC")
		want := strings.Fields(column[2])
		if diff := cmp.Diff(want, days(s, len(want))); diff != "" {
			t.Errorf("%s from %s (-want +got):\n%s", column[0], column[1], diff)
		}
	}
}

// Examples as printed in RFC 5545, 3.8.5.3; the start of the second, 1 September, is recalled. A week that begins on Sunday
// gives the same days here. Two more are among those of the other implementation.
func TestRulesGiveThePrintedDays(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct{ rule, start, want string }{
		{"FREQ=WEEKLY;INTERVAL=2;BYDAY=TU,TH", "1997-09-02",
			"1997-09-02 1997-09-04 1997-09-16 1997-09-18 1997-09-30 1997-10-02 1997-10-14 1997-10-16"},
		{"FREQ=WEEKLY;INTERVAL=2;BYDAY=MO,WE,FR", "1997-09-01",
			"1997-09-01 1997-09-03 1997-09-05 1997-09-15 1997-09-17 1997-09-19 1997-09-29 1997-10-01 1997-10-03 1997-10-13 " +
				"1997-10-15 1997-10-17 1997-10-27 1997-10-29 1997-10-31 1997-11-10 1997-11-12 1997-11-14 1997-11-24 1997-11-26 " +
				"1997-11-28 1997-12-08 1997-12-10 1997-12-12 1997-12-22"},
	} {
		want := strings.Fields(tt.want)
		if diff := cmp.Diff(want, days(schedule(t, tt.rule, tt.start+"T09:00", "America/New_York"), len(want))); diff != "" {
			t.Errorf("%s (-want +got):\n%s", tt.rule, diff)
		}
	}
}

func schedule(t *testing.T, rule, start, zone string) calendar.Schedule {
	t.Helper()
	r, err := calendar.Parse(rule)
	if err != nil {
		t.Fatalf("%s: %v", rule, err)
	}
	at, err := time.Parse("2006-01-02T15:04", start)
	if err != nil {
		t.Fatal(err)
	}
	z, err := time.LoadLocation(zone)
	if err != nil {
		t.Fatal(err)
	}
	return calendar.Schedule{Rule: r, Start: at, Zone: z}
}

func days(s calendar.Schedule, n int) []string {
	var list []string
	for _, at := range times(s, n) {
		list = append(list, at.In(s.Zone).Format(time.DateOnly))
	}
	return list
}

func times(s calendar.Schedule, n int) (list []time.Time) {
	after := time.Time{}
	for range n {
		at, ok := s.Next(after)
		if !ok {
			break
		}
		list, after = append(list, at), at
	}
	return list
}

// Seven o'clock stays seven o'clock when the clocks change. A skipped time has the
// offset before the change; of a repeated time the first is taken. The moments were
// worked out with Python's zoneinfo (PEP 495, fold=0), which has the same reading.
func TestClocksThatChange(t *testing.T) {
	t.Parallel()
	for _, x := range []struct {
		zone, start string
		want        []string
	}{
		{"Europe/Vienna", "2026-03-28T02:30", []string{"2026-03-28T01:30:00Z", "2026-03-29T01:30:00Z", "2026-03-30T00:30:00Z"}},
		{"Europe/Vienna", "2026-10-24T02:30", []string{"2026-10-24T00:30:00Z", "2026-10-25T00:30:00Z", "2026-10-26T01:30:00Z"}},
		{"Europe/Vienna", "2026-03-28T07:00", []string{"2026-03-28T06:00:00Z", "2026-03-29T05:00:00Z"}},
		// a change of half an hour
		{"Australia/Lord_Howe", "2026-10-03T02:15", []string{"2026-10-02T15:45:00Z", "2026-10-03T15:45:00Z"}},
		{"Australia/Lord_Howe", "2026-04-05T01:45", []string{"2026-04-04T14:45:00Z"}},
		// midnight is skipped
		{"America/Sao_Paulo", "2018-11-03T00:00", []string{"2018-11-03T03:00:00Z", "2018-11-04T03:00:00Z", "2018-11-05T02:00:00Z"}},
		{"America/New_York", "2026-11-01T01:30", []string{"2026-11-01T05:30:00Z", "2026-11-02T06:30:00Z"}},
		// a day is skipped, and nothing comes twice
		{"Pacific/Apia", "2011-12-29T07:00", []string{"2011-12-29T17:00:00Z", "2011-12-30T17:00:00Z", "2011-12-31T17:00:00Z"}},
	} {
		var got []string
		for _, at := range times(schedule(t, "FREQ=DAILY", x.start, x.zone), len(x.want)) {
			got = append(got, at.UTC().Format(time.RFC3339))
		}
		if diff := cmp.Diff(x.want, got); diff != "" {
			t.Errorf("%s from %s (-want +got):\n%s", x.zone, x.start, diff)
		}
	}
}

func TestRefusals(t *testing.T) {
	t.Parallel()
	for _, rule := range []string{
		"", "FREQ=HOURLY", "FREQ=MONTHLY;COUNT=3", "FREQ=DAILY;UNTIL=20300101T000000Z", "INTERVAL=2",
		"FREQ=DAILY;INTERVAL=0", "FREQ=DAILY;INTERVAL=1000", "FREQ=DAILY;INTERVAL=1,2", "FREQ=MONTHLY;BYDAY=6MO",
		"FREQ=MONTHLY;BYDAY=XX", "FREQ=MONTHLY;BYDAY=M", "FREQ=WEEKLY;BYDAY=1MO", "FREQ=WEEKLY;BYMONTHDAY=1",
		"FREQ=YEARLY;BYDAY=MO", "FREQ=YEARLY;BYWEEKNO=20", "FREQ=MONTHLY;BYSETPOS=1", "FREQ=DAILY;FREQ=DAILY",
		"FREQ=WEEKLY;WKST=SU", "FREQ=MONTHLY;BYMONTHDAY=0", "FREQ=MONTHLY;BYMONTHDAY=32", "RRULE:FREQ=DAILY",
	} {
		if r, err := calendar.Parse(rule); err == nil {
			t.Errorf("%q: got %+v, want it refused", rule, r)
		}
	}
}

// The search for a rule that never occurs ends, and says so.
func TestRuleThatNeverComes(t *testing.T) {
	t.Parallel()
	for _, rule := range []string{"FREQ=MONTHLY;BYMONTH=2;BYMONTHDAY=30", "FREQ=MONTHLY;BYDAY=MO;BYSETPOS=6",
		"FREQ=DAILY;INTERVAL=7;BYDAY=SU"} {
		if at, ok := schedule(t, rule, "2026-01-05T07:00", "Europe/Vienna").Next(time.Time{}); ok {
			t.Errorf("%s: got %v, want none", rule, at)
		}
	}
}

// Of many missed times the latest are given, and the rest counted.
func TestBetween(t *testing.T) {
	t.Parallel()
	s := schedule(t, "FREQ=DAILY", "2026-01-01T07:00", "Europe/Vienna")
	got, dropped := s.Between(instant("2026-01-10T06:00:00Z"), instant("2026-01-20T06:00:00Z"), 3)
	want := []time.Time{instant("2026-01-18T06:00:00Z"), instant("2026-01-19T06:00:00Z"), instant("2026-01-20T06:00:00Z")}
	if diff := cmp.Diff(want, got); diff != "" || dropped != 7 {
		t.Errorf("got %d dropped, want 7 (-want +got):\n%s", dropped, diff)
	}
}

func instant(text string) time.Time {
	at, err := time.Parse(time.RFC3339, text)
	if err != nil {
		panic(err)
	}
	return at
}

func TestPeriods(t *testing.T) {
	t.Parallel()
	vienna, err := time.LoadLocation("Europe/Vienna")
	if err != nil {
		t.Fatal(err)
	}
	at := instant("2026-02-28T23:30:00Z") // 1 March, a Sunday, in Vienna
	for unit, want := range map[calendar.Unit]string{
		calendar.PreviousDay: "2026-02-28 2026-02-28", calendar.PreviousWeek: "2026-02-16 2026-02-22",
		calendar.PreviousMonth:   "2026-02-01 2026-02-28",
		calendar.PreviousQuarter: "2025-10-01 2025-12-31", calendar.PreviousYear: "2025-01-01 2025-12-31",
	} {
		first, last := unit.Days(at, vienna)
		if got := first.Format(time.DateOnly) + " " + last.Format(time.DateOnly); got != want {
			t.Errorf("%s: got %s, want %s", unit, got, want)
		}
	}
}

// For every moment the next time is later, nothing lies between, and the times
// from an earlier moment include it.
func TestNextIsTheNext(t *testing.T) {
	t.Parallel()
	s := schedule(t, "FREQ=MONTHLY;INTERVAL=2;BYDAY=MO,-1FR;BYMONTHDAY=1,2,3,25,26,27,28,29,30,31", "2020-01-06T02:30",
		"Europe/Vienna")
	rapid.Check(t, func(t *rapid.T) {
		minutes := rapid.Int64Range(0, 10*365*24*60).Draw(t, "minutes")
		after := instant("2020-01-01T00:00:00Z").Add(time.Duration(minutes) * time.Minute)
		next, ok := s.Next(after)
		if !ok || !next.After(after) {
			t.Fatalf("after %v: got %v, %v", after, next, ok)
		}
		from := after.Add(-time.Duration(rapid.Int64Range(0, 400*24).Draw(t, "hours")) * time.Hour)
		for at, _ := s.Next(from); ; at, _ = s.Next(at) {
			if at.Equal(next) {
				return
			}
			if at.After(after) {
				t.Fatalf("from %v: got %v between %v and %v", from, at, after, next)
			}
		}
	})
}

func FuzzParse(f *testing.F) {
	f.Add("FREQ=MONTHLY;BYDAY=1MO")
	f.Add("FREQ=DAILY;BYDAY=é1")
	f.Fuzz(func(t *testing.T, rule string) {
		r, err := calendar.Parse(rule)
		if err != nil {
			return
		}
		s := calendar.Schedule{Rule: r, Start: instant("2026-01-31T07:00:00Z"), Zone: time.UTC}
		if at, ok := s.Next(s.Start); ok && !at.After(s.Start) {
			t.Errorf("%s: got %v after its start", rule, at)
		}
	})
}

// A rule that never occurs is detected without searching through centuries: the
// heap used shows how many days were looked at.
func TestRulesThatNeverCome(t *testing.T) {
	start := time.Date(2026, 1, 1, 7, 0, 0, 0, time.UTC)
	for text, most := range map[string]float64{
		"FREQ=YEARLY;BYMONTH=2;BYMONTHDAY=30":                                10,
		"FREQ=YEARLY;BYMONTH=4,6,9,11;BYMONTHDAY=31":                         10,
		"FREQ=MONTHLY;BYMONTH=2;BYMONTHDAY=-30,30,31":                        10,
		"FREQ=DAILY;BYMONTH=2;BYMONTHDAY=30":                                 10,
		"FREQ=YEARLY;INTERVAL=4;BYMONTH=2;BYDAY=MO;BYMONTHDAY=29;BYSETPOS=2": 20_000,
		"FREQ=MONTHLY;BYMONTHDAY=31;BYSETPOS=2":                              50_000,
		"FREQ=WEEKLY;BYDAY=MO;BYSETPOS=2":                                    100_000,
		"FREQ=DAILY;BYMONTHDAY=1;BYSETPOS=2":                                 300_000,
	} {
		rule, err := calendar.Parse(text)
		if err != nil {
			continue // refused already by Parse
		}
		comes := false
		allocations := testing.AllocsPerRun(1, func() {
			_, comes = calendar.Schedule{Rule: rule, Start: start, Zone: time.UTC}.Next(start)
		})
		if comes || allocations > most {
			t.Errorf("%s: comes %v after %.0f allocations, want never and at most %.0f", text, comes, allocations, most)
		}
	}
}

// Rare rules are found, and rules that began long ago continue: the search covers
// the calendar's cycle of 400 years. 29 February 2028 is a Tuesday, and the next
// one on a Monday is in 2044 (a leap year's 29 February moves by five weekdays in
// four years).
func TestRulesThatComeSeldom(t *testing.T) {
	t.Parallel()
	now := time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC)
	for _, tc := range []struct {
		rule  string
		start time.Time
		want  string
	}{
		{"FREQ=DAILY;BYMONTH=2;BYMONTHDAY=29;BYDAY=MO", time.Date(2026, 1, 1, 7, 0, 0, 0, time.UTC), "2044-02-29"},
		{"FREQ=YEARLY;BYMONTH=2;BYMONTHDAY=29;BYDAY=MO", time.Date(2026, 1, 1, 7, 0, 0, 0, time.UTC), "2044-02-29"},
		{"FREQ=DAILY", time.Date(1, 1, 1, 7, 0, 0, 0, time.UTC), "2026-06-01"},
		{"FREQ=WEEKLY;BYDAY=WE", time.Date(1, 1, 1, 7, 0, 0, 0, time.UTC), "2026-06-03"},
	} {
		rule, err := calendar.Parse(tc.rule)
		if err != nil {
			t.Fatal(err)
		}
		got, comes := calendar.Schedule{Rule: rule, Start: tc.start, Zone: time.UTC}.Next(now)
		if day := got.Format(time.DateOnly); !comes || day != tc.want {
			t.Errorf("%s: got %s (%v), want %s", tc.rule, day, comes, tc.want)
		}
	}
}
