package record_test

import (
	"strings"
	"testing"

	"pgregory.net/rapid"

	"meniscus/internal/fault"
	"meniscus/internal/record"
)

func code(err error) string {
	if found := fault.From(err); len(found) > 0 {
		return found[0].Code
	}
	return ""
}

func TestORCID(t *testing.T) {
	t.Parallel()
	for _, row := range []struct{ text, want, code string }{
		// The fictitious iD that ORCID publishes for documentation.
		{"0000-0002-1825-0097", "0000-0002-1825-0097", ""},
		{"https://orcid.org/0000-0002-1825-0097", "0000-0002-1825-0097", ""},
		{"0000-0002-1825-0098", "", "orcid-check-digit"},
		{"0000-0002-1852-0097", "", "orcid-check-digit"},
		{"0000000218250097", "", "orcid-malformed"},
		{"0000-0002-1825-009", "", "orcid-malformed"},
		{" 0000-0002-1825-0097", "", "orcid-malformed"},
		{"", "", "orcid-malformed"},
	} {
		got, err := record.ParseORCID(row.text)
		if got != row.want || code(err) != row.code {
			t.Errorf("ParseORCID(%q): got %q, %v, want %q, %s", row.text, got, err, row.want, row.code)
		}
	}
}

// The check catches any one wrong digit and any swap of two neighbours, which is
// what ISO 7064 promises of MOD 11-2.
func TestORCIDCatchesEveryWrongDigit(t *testing.T) {
	t.Parallel()
	const id = "0000-0002-1825-0097"
	for i := range id {
		for d := byte('0'); d <= '9'; d++ {
			changed := id[:i] + string(d) + id[i+1:]
			if id[i] == '-' || id[i] == d {
				continue
			}
			if _, err := record.ParseORCID(changed); code(err) != "orcid-check-digit" {
				t.Errorf("%s: got %v, want orcid-check-digit", changed, err)
			}
		}
	}
}

func TestROR(t *testing.T) {
	t.Parallel()
	for _, row := range []struct{ text, want, code string }{
		// The example of the identifier's own documentation.
		{"05dxps055", "05dxps055", ""},
		{"https://ror.org/05dxps055", "05dxps055", ""},
		{"ror.org/05DXPS055", "05dxps055", ""},
		{"05dxps056", "", "ror-check-digits"},
		{"05dxsp055", "", "ror-check-digits"},
		{"15dxps055", "", "ror-malformed"},
		{"05dxpl055", "", "ror-malformed"},
		{"", "", "ror-malformed"},
	} {
		got, err := record.ParseROR(row.text)
		if got != row.want || code(err) != row.code {
			t.Errorf("ParseROR(%q): got %q, %v, want %q, %s", row.text, got, err, row.want, row.code)
		}
	}
}

func TestFold(t *testing.T) {
	t.Parallel()
	for number, want := range map[string]string{
		"LV.1987/0042":     "lv198742",
		"lv 1987-42":       "lv198742",
		"LV 1987.0042 a":   "lv198742a",
		"ЛВ-17":            "лв17",
		"٠٠٤٢":             "42",
		"４２":               "42",
		"Straße 7":         "strasse7",
		"e\u0301 1":        "é1",
		"🦴 12":             "12",
		"🦴":                "🦴",
		"- -":              "--",
		"000":              "0",
		"מ.ו. 15":          "מו15",
		"a00":              "a0",
		"1987.0 / 10":      "1987010",
		"  LV.1987 / 42  ": "lv198742",
	} {
		if got := record.Fold(number); got != want {
			t.Errorf("Fold(%q): got %q, want %q", number, got, want)
		}
	}
}

func TestFoldForgetsCaseSpacesAndPunctuation(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		number := rapid.StringMatching(`[A-Za-zà-öа-яα-ρ0-9]{1,12}`).Draw(t, "number")
		if got := record.Fold(record.Fold(number)); got != record.Fold(number) {
			t.Fatalf("Fold twice of %q: got %q, want %q", number, got, record.Fold(number))
		}
		if got, want := record.Fold(strings.ToUpper(number)), record.Fold(number); got != want {
			t.Fatalf("upper case of %q: got %q, want %q", number, got, want)
		}
		if got, want := record.Fold(" "+number+". "), record.Fold(number); got != want {
			t.Fatalf("%q with spaces and a dot: got %q, want %q", number, got, want)
		}
	})
}

func TestNearSpellings(t *testing.T) {
	t.Parallel()
	onRecord := []string{"LV.1987/0042", "LV.1987/0043", "LV.1987/0142", "LV.1987/O042", "LV.1978/0042", "LV.2001/0900",
		"LV 1987 42", "LV.1987/0042a"}
	var candidates []record.Spelling[int]
	for i, n := range onRecord {
		candidates = append(candidates, record.Spelling[int]{Number: n, Of: i})
	}
	var got []string
	for _, s := range record.NearSpellings("LV.1987/42", candidates) {
		if onRecord[s.Of] != s.Number {
			t.Fatalf("%s came back with what belongs to %s", s.Number, onRecord[s.Of])
		}
		got = append(got, s.Number)
	}
	want := "LV 1987 42|LV.1987/0042|LV.1978/0042|LV.1987/0042a|LV.1987/0043|LV.1987/0142|LV.1987/O042"
	if strings.Join(got, "|") != want {
		t.Errorf("got %s, want %s", strings.Join(got, "|"), want)
	}
}

func TestNearSpellingsOfShortNumbersAreStrict(t *testing.T) {
	t.Parallel()
	candidates := []record.Spelling[bool]{{Number: "13"}, {Number: "12 "}, {Number: "0012"}, {Number: "12"}}
	if got := record.NearSpellings("12", candidates); len(got) != 2 || got[0].Number != "0012" || got[1].Number != "12 " {
		t.Errorf("got %v, want 0012 and the one with a space", got)
	}
}

func TestNearSpellingsGivesAtMostTwenty(t *testing.T) {
	t.Parallel()
	candidates := make([]record.Spelling[int], 500)
	for i := range candidates {
		candidates[i].Number = "LV.1987/00" + strings.Repeat("0", i%9) + "42" + strings.Repeat(" ", i)
	}
	if got := len(record.NearSpellings("LV.1987/42", candidates)); got != record.MaxNear {
		t.Errorf("got %d, want %d", got, record.MaxNear)
	}
}
