package record_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"meniscus/internal/edtf"
	"meniscus/internal/record"
)

// TestDueOf: what each kind of record alone says is to be done, and from which day on.
func TestDueOf(t *testing.T) {
	t.Parallel()
	on := func(text string) record.Date {
		d, err := edtf.Parse(text)
		if err != nil {
			t.Fatal(err)
		}
		return record.Give(d)
	}
	day := func(y, m, d int) edtf.Day { return edtf.Day{Year: y, Month: m, Day: d} }
	touchDry := record.Treatment{Date: on("2026-03"), Drying: &record.Drying{State: "touch-dry"}}
	tests := map[string]struct {
		value record.Value
		want  []record.Due
	}{
		"nothing said": {&record.Treatment{}, nil},
		"a check, on its first day": {&record.Treatment{NextCheck: on("2026-09")},
			[]record.Due{{What: "next-check", Day: day(2026, 9, 1)}}},
		"an approximate check, with its margin": {&record.Treatment{NextCheck: on("2026-09~")},
			[]record.Due{{What: "next-check", Day: day(2026, 8, 1)}}},
		"a check with an open beginning": {&record.Treatment{NextCheck: on("../2026-09-30")},
			[]record.Due{{What: "next-check", Day: day(2026, 9, 30)}}},
		"no check":          {&record.Treatment{NextCheck: record.Date{Answer: record.AnswerNone}}, nil},
		"touch-dry":         {&touchDry, []record.Due{{What: "drying", Day: day(2026, 3, 31)}}},
		"dried":             {&record.Treatment{Date: on("2026-03"), Drying: &record.Drying{State: "dried"}}, nil},
		"undated touch-dry": {&record.Treatment{Drying: &record.Drying{State: "touch-dry"}}, nil},
		"a plan, by the day it is meant for": {
			&record.Plan{Treatment: record.Treatment{Date: on("2026-04-02")}, Proposed: on("2026-01-05")},
			[]record.Due{{What: "authorisation", Day: day(2026, 4, 2)}}},
		"a plan, by the day it was proposed": {&record.Plan{Proposed: on("2026-01-05")},
			[]record.Due{{What: "authorisation", Day: day(2026, 1, 5)}}},
		"a plan without a day": {&record.Plan{}, []record.Due{{What: "authorisation"}}},
		"an authorised plan":   {&record.Plan{Authorisation: record.Give(record.Authorisation{})}, nil},
		"a supply, on its last day": {&record.Supply{Expires: on("2026-12")},
			[]record.Due{{What: "supply-expires", Day: day(2026, 12, 31)}}},
		"an empty supply": {&record.Supply{Expires: on("2026-12"), State: "empty"}, nil},
		"a batch":         {&record.Batch{Expires: on("2027")}, []record.Due{{What: "batch-expires", Day: day(2027, 12, 31)}}},
		"a spent batch":   {&record.Batch{Expires: on("2027"), State: "spent"}, nil},
		"a dissolving batch": {&record.Batch{State: "dissolving", Made: on("2026-05-01")},
			[]record.Due{{What: "clear-check", Day: day(2026, 5, 1)}}},
		"a cloudy batch, from its last check on": {&record.Batch{State: "dissolving", Made: on("2026-05-01"),
			ClearCheck: &record.ClearCheck{Date: on("2026-05-03"), Result: "cloudy"}},
			[]record.Due{{What: "clear-check", Day: day(2026, 5, 3)}}},
		"a clear batch": {&record.Batch{State: "dissolving", ClearCheck: &record.ClearCheck{Result: "clear"}}, nil},
		"an unknown loss": {&record.AmountChange{Type: "evaporated", Date: on("2026-06-01")},
			[]record.Due{{What: "strength-check", Day: day(2026, 6, 1)}}},
		"an unknown use": {&record.AmountChange{Type: "used", Date: on("2026-06-01")}, nil},
	}
	for name, test := range tests {
		if diff := cmp.Diff(record.DueOf(test.value), test.want); diff != "" {
			t.Errorf("%s (- got + want):\n%s", name, diff)
		}
	}
}
