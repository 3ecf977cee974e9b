package cardimport

import "testing"

// What a number reads as: a range, a list, or one number. Numbers whose year is
// followed by a running number are one.
func TestReadsAsSeveral(t *testing.T) {
	t.Parallel()
	for text, want := range map[string]string{
		"BH 6004-6012":     "BH 6004 to BH 6012 (9 numbers)",
		"BH 6004–BH 6012":  "BH 6004 to BH 6012 (9 numbers)",
		"BH 6004-12":       "BH 6004 to BH 6012 (9 numbers)",
		"6004 to 6005":     "6004 to 6005 (2 numbers)",
		"BH 6002, 6003":    "BH 6002 and BH 6003",
		"BH 6002,6003":     "BH 6002 and BH 6003",
		"BH 6002 and 6003": "BH 6002 and BH 6003",
		"BH 6002; BH 6009": "BH 6002 and BH 6009",
		"LV.1931/0007":     "",
		"lv 1931-7":        "",
		"1999-2012":        "",
		"BH 6012-6004":     "",
		"A-12":             "",
		"12-345":           "",
		"BH 1,234":         "",
		"BH 6004":          "",
		"BH 6004 a-c":      "",
	} {
		if got := readsAsSeveral(text); got != want {
			t.Errorf("%q: got %q, want %q", text, got, want)
		}
	}
}

// 196? and 1978/79 are a decade and two years; a set of dates is refused as a set; a
// season has the months of the hemisphere that the mapping names.
func TestDatesOfOldCards(t *testing.T) {
	t.Parallel()
	words := []DateForm{EDTF, YearMonthDay, EnglishWords}
	for _, c := range []struct{ text, hemisphere, want string }{
		{"196?", "", "196X"},
		{"19??", "", "19XX"},
		{"1978/79", "", "1978/1979"},
		{"1978/12", "", "1978-12"},
		{"spring 1962", "", "1962-21"},
		{"spring 1962", "northern", "1962-03/1962-05"},
		{"spring 1962", "southern", "1962-09/1962-11"},
		{"summer 1962", "southern", "1962-12/1963-02"},
		{"autumn 1962", "southern", "1962-03/1962-05"},
		{"winter 1962", "southern", "1962-06/1962-08"},
		{"winter 1962", "northern", "1962-12/1963-02"},
	} {
		got, err := Mapping{Dates: words, Hemisphere: c.hemisphere}.readDate(c.text)
		if err != nil || got != c.want {
			t.Errorf("%q (%s): got %q, %v, want %q", c.text, c.hemisphere, got, err, c.want)
		}
	}
}
