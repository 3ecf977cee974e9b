package httpapi_test

import (
	"maps"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"meniscus/internal/edtf"
)

// TestARangeOfDaysKeepsWhatMayHaveHappened: the list of treatments and the report agree with
// the bounds of each date, for dates of every length and with open ends.
func TestARangeOfDaysKeepsWhatMayHaveHappened(t *testing.T) {
	t.Parallel()
	s := newService(t)
	skull := s.create("/v1/specimens", specimen("LV.70")).id()
	said := map[string]string{}
	for _, date := range []string{
		"1987-03-01", "1987-03-31", "1987-02", "1987-03", "1987", "1987~", "1988-03~", "198X", "1980/1989", "19XX", "18XX",
		"1801/1987", "1987-03-01/..", "../1987-03-01", "1700/..", "2024-02-29", "1987-02-28/1987-03-01", "1986-12-31/1987-12-31",
	} {
		said[s.create("/v1/treatments", treatment(skull, "coating", date)).id()] = date
	}
	days := []string{"", "1700-01-01", "1899-12-31", "1979-12-31", "1987-02-28", "1987-03-01", "1987-03-31", "1988-01-01", "2026-01-01"}
	for _, from := range days {
		for _, until := range days {
			query := ""
			if from != "" {
				query += "&from=" + from
			}
			if until != "" {
				query += "&until=" + until
			}
			want := mayBe(t, said, from, until)
			listed := s.do(http.MethodGet, "/v1/treatments?limit=100"+query, nil).want(200).ids()
			slices.Sort(listed)
			if !cmp.Equal(listed, want) {
				t.Errorf("list of %q: %s", query, cmp.Diff(want, listed))
			}
			report := reportRows(s.do(http.MethodGet, "/v1/reports/reversible-treatments?"+strings.TrimPrefix(query, "&"), nil).want(200))
			if got := slices.Sorted(maps.Keys(report)); !cmp.Equal(got, want) {
				t.Errorf("report of %q: %s", query, cmp.Diff(want, got))
			}
		}
	}
}

// mayBe gives the ids of what may have happened between two days, by the dates that were said.
func mayBe(t *testing.T, said map[string]string, from, until string) []string {
	t.Helper()
	var ids []string
	for id, text := range said {
		date, err := edtf.Parse(text)
		if err != nil {
			t.Fatal(err)
		}
		period := date.Period()
		early := until == "" || period.From.IsZero() || period.From.Time().Format(time.DateOnly) <= until
		late := from == "" || period.To.IsZero() || period.To.Time().Format(time.DateOnly) >= from
		if early && late {
			ids = append(ids, id)
		}
	}
	slices.Sort(ids)
	return ids
}
