package calculation_test

import (
	"math"
	"strings"
	"testing"

	"meniscus/api"
	"meniscus/internal/calculation"
	"meniscus/internal/fault"
)

// brushing asks about a little acetone beside what is said of it and of the place.
func brushing(solvent, place string) string {
	return `{"work": {"solvents": [{"material": ` + solvent + `}], "release": {"steady": {"duration": {"value": 2, "unit": "h"}}}, ` + place + `
		"room": {"volume": {"value": 60, "unit": "m3"}, "air": {"changes": {"value": 6, "unit": "1/h"}}}}}`
}

const littleAcetone = `"acetone", "amount": {"value": 5, "unit": "mL"}`

// What is below a limit is not above it only where that limit was read, is in force, and is that of the country. Acetone:
// 500 ppm in the EU and the UK, 1500 ppm for 15 minutes in the UK (EH40/2005, read), 250 ppm NIOSH, 1000 ppm OSHA (read).
func TestLimitsByJurisdiction(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name, solvent, place string
		lists, above         string // of the limits, in their order
		says                 string
	}{
		{"no country", littleAcetone, ``, "US US EU GB GB FR FR DE", "unknown", "your country was not said"},
		{"the UK", littleAcetone, `"country": "GB",`, "GB GB", "no", ""},
		{"the United States", littleAcetone, `"country": "US",`, "US US", "no", ""},
		{"a state", littleAcetone, `"country": "US-CA",`, "US US", "unknown", "US-CA itself"},
		{"a figure that is recalled", littleAcetone, `"country": "DE",`, "EU DE", "unknown", "the figure is recalled"},
		{"an older text", littleAcetone, `"country": "FR",`, "EU FR FR", "unknown", "not the one in force"},
		{"a member state", littleAcetone, `"country": "IT",`, "EU", "unknown", "national law"},
		{"a country without a list", littleAcetone, `"country": "CH",`, "US US EU GB GB FR FR DE", "unknown", "limits of CH"},
		{"too much in any list", `"acetone", "amount": {"value": 5, "unit": "L"}`, `"country": "IT",`, "EU", "yes", ""},
		{"a limit of one's own", littleAcetone + `, "limits": [{"value": {"value": 500, "unit": "[ppm]"}, "kind": "working-day"}]`,
			`"country": "IT",`, "EU ", "unknown no", "national law"},
	} {
		a, err := asked(t, calculation.Vapour, brushing(c.solvent, c.place))
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		var lists, above []string
		for _, l := range a.Work.Limits {
			if l.Jurisdiction == nil {
				l.Jurisdiction = new(string)
			}
			lists, above = append(lists, *l.Jurisdiction), append(above, string(l.Above))
		}
		want := strings.Fields(c.above)
		if strings.Join(lists, " ") != c.lists {
			t.Errorf("%s: limits of %q, want %q", c.name, lists, c.lists)
		}
		for i, got := range above {
			if got != want[min(i, len(want)-1)] {
				t.Errorf("%s: above the limit %d of %s: got %s, want %s", c.name, i, lists[i], got, c.above)
			}
		}
		if known := !strings.Contains(a.Answer, "not known here"); known != (c.says == "") || !strings.Contains(a.Answer, c.says) {
			t.Errorf("%s: %q, want %q", c.name, a.Answer, c.says)
		}
	}
}

// The German list alone is recalled, and of a mixture each part needs its limit; water needs none.
func TestWhatKeepsALimitFromDeciding(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		solvent, country, jurisdiction string
		want                           api.YesNo
	}{
		{littleAcetone, "DE", "DE", api.YesNoUnknown},
		{`"ethanol-96", "amount": {"value": 5, "unit": "mL"}`, "GB", "GB", api.YesNoNo},
		{littleAcetone + `}, {"material": "white-spirit-stoddard-solvent", "amount": {"value": 0.01, "unit": "mL"}`,
			"GB", "GB", api.YesNoUnknown},
	} {
		a, err := asked(t, calculation.Vapour, brushing(c.solvent, `"country": "`+c.country+`",`))
		if err != nil {
			t.Errorf("%s: %v", c.solvent, err)
			continue
		}
		for _, l := range a.Work.Limits {
			if l.Jurisdiction != nil && *l.Jurisdiction == c.jurisdiction && l.Above != c.want {
				t.Errorf("%s in %s: got %s by %s, without %v; want %s", c.solvent, c.country, l.Above, l.List, l.Without, c.want)
			}
		}
	}
}

// A limit in mg/m3 is converted at its own temperature: of acetone 1210 mg/m3 are 500 ppm at 20 °C (EH40/2005, read), and
// 590 mg/m3 about 250 ppm at 25 °C (NIOSH, read, rounded there).
func TestOwnLimitsAreConverted(t *testing.T) {
	t.Parallel()
	limit := func(value, at string) (float64, error) {
		a, err := asked(t, calculation.Vapour, brushing(littleAcetone+`, "limits": [{"value": `+value+`, "kind": "short-term"`+at+`}]`, ``))
		if err != nil {
			return 0, err
		}
		for _, l := range a.Work.Limits {
			if l.Jurisdiction == nil {
				return (*l.Parts)[0].Limit.Value, nil
			}
		}
		return 0, nil
	}
	for _, c := range []struct {
		value, at string
		want      float64
		within    float64
	}{
		{`{"value": 1210, "unit": "mg/m3"}`, ``, 500, 0.005},
		{`{"value": 590, "unit": "mg/m3"}`, `, "at": {"value": 25, "unit": "Cel"}`, 250, 0.01},
		{`{"value": 750, "unit": "[ppm]"}`, ``, 750, 1e-9},
	} {
		got, err := limit(c.value, c.at)
		if err != nil || math.Abs(got/c.want-1) > c.within {
			t.Errorf("%s%s: got %g ppm, %v; want %g", c.value, c.at, got, err, c.want)
		}
	}
	for name, c := range map[string][3]string{
		"nothing":     {`{"value": 0, "unit": "[ppm]"}`, ``, "limit-out-of-range /work/solvents/0/limits/0/value"},
		"a mass":      {`{"value": 1, "unit": "g"}`, ``, "limit-out-of-range /work/solvents/0/limits/0/value"},
		"boiling hot": {`{"value": 1, "unit": "mg/m3"}`, `, "at": {"value": 68, "unit": "Cel"}`, "out-of-range /work/solvents/0/limits/0/at"},
	} {
		_, err := limit(c[0], c[1])
		if list := fault.From(err); len(list) != 1 || list[0].Code+" "+list[0].Pointer != c[2] {
			t.Errorf("%s: got %v, want %s", name, err, c[2])
		}
	}
}
