package edtf_test

import (
	"encoding/csv"
	"errors"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"meniscus/internal/edtf"
	"meniscus/internal/fault"
)

// tableRow is a row of testdata/published/edtf.tsv; each names its source.
type tableRow struct {
	text, verdict, earliest, latest, start, end, level, precision, mark, code string
}

func readTable(t *testing.T) []tableRow {
	t.Helper()
	file, err := os.Open("../../testdata/published/edtf.tsv")
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	r := csv.NewReader(file)
	r.Comma, r.LazyQuotes = '\t', true
	records, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var rows []tableRow
	for _, f := range records[1:] {
		rows = append(rows, tableRow{f[0], f[1], f[2], f[3], f[4], f[5], f[6], f[7], f[8], f[9]})
	}
	return rows
}

func mark(d edtf.Date) string {
	switch {
	case d.Uncertain() && d.Approximate():
		return "%"
	case d.Uncertain():
		return "?"
	case d.Approximate():
		return "~"
	}
	return "-"
}

func seen(text string) tableRow {
	d, err := edtf.Parse(text)
	if err != nil {
		var refusal *fault.Fault
		if !errors.As(err, &refusal) {
			return tableRow{text: text, verdict: "an error that is no fault"}
		}
		return tableRow{text: text, verdict: "refused", code: refusal.Code}
	}
	earliest, _ := d.Earliest()
	latest, _ := d.Latest()
	return tableRow{text: d.String(), verdict: "valid", earliest: earliest.String(), latest: latest.String(),
		start: d.Start().String(), end: d.End().String(), level: strconv.Itoa(d.Level()),
		precision: d.Precision().String(), mark: mark(d)}
}

func TestParseTable(t *testing.T) {
	t.Parallel()
	rows := readTable(t)
	if len(rows) < 120 {
		t.Fatalf("got %d rows, want at least 120", len(rows))
	}
	for _, want := range rows {
		if diff := cmp.Diff(seen(want.text), want, cmp.AllowUnexported(tableRow{})); diff != "" {
			t.Errorf("%q (-got +want):\n%s", want.text, diff)
		}
	}
}

func TestRefusalSaysHowToMend(t *testing.T) {
	t.Parallel()
	for text, want := range map[string]string{
		"2004-02-31":                "run from 01 to 29. If only the month is sure, leave the day out",
		"1985-1990":                 "1985/1990",
		"1950s":                     "195X",
		"circa 1985":                "1985~",
		"Spring, 2002":              "2002-21",
		"201X?":                     "2010?/2019?",
		"2001-29":                   "2001-09/2001-11",
		"12/04/1985":                "year first",
		"2004/2003":                 "earlier date first",
		"":                          "unknown",
		strings.Repeat("1985/", 20): "64",
	} {
		_, err := edtf.Parse(text)
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("Parse(%q): got %v, want words with %q", text, err, want)
		}
	}
}

func TestWords(t *testing.T) {
	t.Parallel()
	for text, want := range map[string]string{
		"1985-04-12":           "12 April 1985",
		"1985-04-12T23:20:30Z": "12 April 1985",
		"1985-04~":             "about April 1985",
		"1985?":                "possibly 1985",
		"1985%":                "possibly about 1985",
		"195X":                 "the 1950s",
		"200X":                 "2000 to 2009",
		"19XX":                 "1900 to 1999",
		"2001-24":              "winter 2001",
		"2004-XX":              "2004",
		"1911/1914-06~":        "from 1911 to about June 1914",
		"1911/..":              "from 1911 on",
		"1911/":                "from 1911 to an unknown date",
		"/1911":                "from an unknown date to 1911",
		"../1911":              "any time up to 1911",
	} {
		if got := edtf.MustParse(text).Words(); got != want {
			t.Errorf("Words of %s: got %q, want %q", text, got, want)
		}
	}
	if got := (edtf.Date{}).Words(); got != "no date" {
		t.Errorf("Words of the zero date: got %q", got)
	}
}

func TestQueries(t *testing.T) {
	t.Parallel()
	year1950 := edtf.Period{From: edtf.Day{Year: 1950, Month: 1, Day: 1}, To: edtf.Day{Year: 1950, Month: 12, Day: 31}}
	for _, row := range []struct {
		text                                    string
		notBefore, notAfter, overlaps, contains bool
	}{
		{"1950-06", true, true, true, true},
		{"1950", true, true, true, true},
		{"195X", true, false, true, false},
		{"1949-12-31", false, true, false, false},
		{"1951", true, false, false, false},
		{"1949/1950-01-01", false, true, true, false},
		{"1950/..", true, false, true, false},
		{"1950/", true, false, true, false},
		{"../1949", false, true, false, false},
		{"/1950", false, true, true, false},
	} {
		d := edtf.MustParse(row.text)
		got := [...]bool{d.NotBefore(year1950.From), d.NotAfter(year1950.To), year1950.Overlaps(d.Period()),
			year1950.Contains(d.Period())}
		want := [...]bool{row.notBefore, row.notAfter, row.overlaps, row.contains}
		if got != want {
			t.Errorf("%s and 1950 (not before, not after, overlaps, contains): got %v, want %v", row.text, got, want)
		}
	}
}

func TestCompareOrdersLists(t *testing.T) {
	t.Parallel()
	ordered := []string{"../1980", "/1985", "1984", "1984/1985", "1984/..", "1985-01-01", "1985-01", "1985"}
	for i, a := range ordered {
		for j, b := range ordered {
			got := edtf.Compare(edtf.MustParse(a), edtf.MustParse(b))
			if want := sign(i - j); got != want {
				t.Errorf("Compare(%s, %s): got %d, want %d", a, b, got, want)
			}
		}
	}
}

func sign(n int) int {
	switch {
	case n < 0:
		return -1
	case n > 0:
		return 1
	}
	return 0
}

func TestMustParsePanicsOnNoDate(t *testing.T) {
	t.Parallel()
	defer func() {
		if recover() == nil {
			t.Error("got no panic, want one")
		}
	}()
	edtf.MustParse("2004-02-31")
}
