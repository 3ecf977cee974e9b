package record_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"

	"pgregory.net/rapid"

	"meniscus/internal/record"
)

func TestFold(t *testing.T) {
	t.Parallel()
	for number, want := range map[string]string{
		"LV.1987/0042":                 "lv 1987 42",
		"lv 1987-42":                   "lv 1987 42",
		"LV1987/42":                    "lv 1987 42",
		"LV 1987.0042 a":               "lv 1987 42 a",
		"LV.1987/0042a":                "lv 1987 42 a",
		"2004.1.12":                    "2004 1 12",
		"2004.11.2":                    "2004 11 2",
		"2004.112":                     "2004 112",
		"ЛВ-017":                       "лв 17",
		"٠٠٤٢":                         "٤٢", // digits of a script as they are
		"٤٢ / 42":                      "٤٢ 42",
		"４２":                           "42", // the same digits, only wider
		"Straße 7":                     "strasse 7",
		"STRASSE 07":                   "strasse 7",
		"e\u0301 1":                    "é 1",
		"É1":                           "é 1",
		"Ⅳ 3":                          "iv 3",
		"🦴 12":                         "12",
		"🦴":                            "🦴",
		"- -":                          "--",
		"./.":                          "./.",
		"000":                          "0",
		"1.000.2":                      "1 0 2",
		"٠٠":                           "٠",
		"a00":                          "a 0",
		"מ.ו. 15":                      "מ ו 15",
		"1987.0 / 10":                  "1987 0 10",
		"  LV.1987 / 42  ":             "lv 1987 42",
		"LV.\u200e1987/00\u200f42":     "lv 1987 42", // direction marks are invisible
		"\u202eLV.1987/0042\u202c":     "lv 1987 42",
		"LV.19\u00ad87/0042\ufe0f":     "lv 1987 42",
		"LV.1987/\u200b0\u200d0\u2060": "lv 1987 0",
	} {
		if got := record.Fold(number); got != want {
			t.Errorf("Fold(%q): got %q, want %q", number, got, want)
		}
	}
}

// A fold fits into an index for every number: the longest one, and one whose
// characters each expand to eighteen.
func TestFoldsHaveABound(t *testing.T) {
	t.Parallel()
	long := strings.Repeat("LV.1987/0042 ", 31)[:400]
	for _, number := range []string{long, strings.Repeat("\ufdfa", 500), strings.Repeat("🦴", 500), strings.Repeat("0", 400)} {
		if got := len(record.Fold(number)); got > 200 {
			t.Errorf("%.20q…: got a fold of %d bytes, want at most 200", number, got)
		}
	}
	if record.Fold(long) != record.Fold(strings.ToLower(long)) || record.Fold(long) == record.Fold(long+"1") {
		t.Error("long numbers do not fold like short ones")
	}
}

// numbers are made of words of letters and digits with something between them.
type drawn struct{ words, between []string }

func draw(t *rapid.T) drawn {
	n := rapid.IntRange(1, 5).Draw(t, "words")
	var d drawn
	for i := range n {
		class := rapid.SampledFrom([]string{`[A-Za-zà-öа-яα-ρ]{1,4}`, `[1-9][0-9]{0,4}`}).Draw(t, "class")
		d.words = append(d.words, rapid.StringMatching(class).Draw(t, "word"))
		if i > 0 {
			d.between = append(d.between, rapid.SampledFrom([]string{".", "/", "-", " ", ":", "–", ". ", "_", "#"}).Draw(t, "between"))
		}
	}
	return d
}

func (d drawn) String() string {
	text := d.words[0]
	for i, w := range d.words[1:] {
		text += d.between[i] + w
	}
	return text
}

// Numbers are compared without case, separators and leading zeros.
func TestFoldForgetsCaseSeparatorsAndLeadingZeros(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		d := draw(t)
		want := record.Fold(d.String())
		other := drawn{slices.Clone(d.words), slices.Clone(d.between)}
		for i, w := range other.words {
			if unicode.IsDigit(rune(w[0])) {
				other.words[i] = strings.Repeat("0", rapid.IntRange(0, 3).Draw(t, "zeros")) + w
			} else if rapid.Bool().Draw(t, "upper") {
				other.words[i] = strings.ToUpper(w)
			}
		}
		for i := range other.between {
			other.between[i] = rapid.StringMatching(`[ ./:_-]{1,3}`).Draw(t, "separator")
		}
		again := " " + other.String() + rapid.SampledFrom([]string{"", ".", " ", "\u200e"}).Draw(t, "end")
		if got := record.Fold(again); got != want {
			t.Fatalf("%q and %q: got %q, want %q", d, again, got, want)
		}
		if got := record.Fold(want); got != want {
			t.Fatalf("folded twice: got %q, want %q", got, want)
		}
	})
}

// Moving a digit over a separator makes another number.
func TestFoldTellsWhereDigitsStand(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		left := rapid.StringMatching(`[1-9][0-9]{1,4}`).Draw(t, "left")
		right := rapid.StringMatching(`[1-9][0-9]{0,4}`).Draw(t, "right")
		separator := rapid.SampledFrom([]string{".", "/", "-", " ", "a"}).Draw(t, "separator")
		number := "LV." + left + separator + right
		moved := "LV." + left[:len(left)-1] + separator + left[len(left)-1:] + right
		if left[len(left)-1] == '0' {
			t.Skip("a zero that moves leads the next run")
		}
		if record.Fold(number) == record.Fold(moved) {
			t.Fatalf("%q and %q: both fold to %q", number, moved, record.Fold(number))
		}
	})
}

// Fold takes any characters, and two texts that fold alike are alike in their
// letters and digits.
func TestFoldTakesAnything(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		number := rapid.String().Draw(t, "number")
		got := record.Fold(number)
		if !utf8.ValidString(got) || len(got) > 200 {
			t.Fatalf("%q: got %q", number, got)
		}
		if variants := record.Variants(number); len(variants) > record.MostVariants || variants[0].Fold != got {
			t.Fatalf("%q: got %d variants, the first %q", number, len(variants), variants[0].Fold)
		}
	})
}

// likeness tells how another number is near, or "no".
func likeness(number, other string) string {
	for _, v := range record.Variants(number) {
		if v.Fold == record.Fold(other) {
			return fmt.Sprint(v.Likeness)
		}
	}
	return "no"
}

func TestNearSpellings(t *testing.T) {
	t.Parallel()
	same, looks, swapped := fmt.Sprint(record.FoldsAlike), fmt.Sprint(record.LooksAlike), fmt.Sprint(record.Swapped)
	for _, row := range []struct{ a, b, want string }{
		{"LV.1987/42", "LV.1987/0042", same},
		{"LV.1987/0042", "LV.1978/0042", swapped},
		{"LV.1987/0042", "LV.1987/O042", looks},
		{"LV.1987/0042", "LV.l987/0042", looks},
		{"LV.1987/0011", "LV.1987/00I1", looks},
		{"LV.1987/0042", "VL.1987/0042", swapped},
		{"BH 5010", "BH 5O10", looks},
		{"BH 5010", "BH 5001", swapped},
		{"1l", "1I", looks},
		{"٤٢", "٢٤", swapped},

		// neighbours in a register
		{"BH 5010", "BH 5050", "no"},
		{"BH 5010", "BH 5011", "no"},
		{"BH 10", "BH 1", "no"},
		{"BH 100", "BH 10", "no"},
		{"BH 10", "BH 100", "no"},
		{"LV.1987/0042", "LV.1987/0043", "no"},
		{"LV.1987/0042", "LV.1987/0142", "no"},
		{"LV.1987/0042", "LV.1987/0042a", "no"},
		{"LV.1987/0042a", "LV.1987/0042b", "no"},
		{"2004.1.12", "2004.11.2", "no"},
		{"LV.2001/0900", "LV.1987/0042", "no"},
		{"13", "12", "no"},
		{"🦴", "🦷", "no"},
	} {
		for _, pair := range [][2]string{{row.a, row.b}, {row.b, row.a}} {
			if got := likeness(pair[0], pair[1]); got != row.want {
				t.Errorf("%q beside %q: got %s, want %s", pair[0], pair[1], got, row.want)
			}
		}
	}
	if got := likeness("LV.I987/OO42", "LV.1987/0042"); got != looks { // all letters at once, as a typist writes them
		t.Errorf("letters for all digits: got %s, want %s", got, looks)
	}
}

// Nearness is mutual: of two near numbers, the one recorded second always finds
// the first.
func TestNearnessIsMutual(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		number := rapid.StringMatching(`[A-Z]{1,3}[ ./-]?[0-9]{1,5}([ ./-][0-9oOlI]{1,5})?[a-c]?`).Draw(t, "number")
		text := []rune(strings.ToLower(number))
		i := rapid.IntRange(0, len(text)-2).Draw(t, "at")
		if unicode.In(text[i], unicode.L, unicode.Nd) && unicode.In(text[i+1], unicode.L, unicode.Nd) {
			text[i], text[i+1] = text[i+1], text[i]
		}
		other := string(text)
		if there, back := likeness(number, other), likeness(other, number); there != back {
			t.Fatalf("%q beside %q: got %s, and the other way round %s", number, other, there, back)
		}
	})
}

// Long numbers are copied, not typed: only their own fold is looked for.
func TestVariantsHaveABound(t *testing.T) {
	t.Parallel()
	if got := len(record.Variants(strings.Repeat("1l", 12))); got < 24 || got > record.MostVariants {
		t.Errorf("twenty-four characters: got %d variants, want many, and at most %d", got, record.MostVariants)
	}
	if got := len(record.Variants(strings.Repeat("1l", 12) + "1")); got != 1 {
		t.Errorf("twenty-five characters: got %d variants, want one", got)
	}
}

func TestNearestFirst(t *testing.T) {
	t.Parallel()
	found := []record.Spelling[int]{
		{Number: "LV.1978/42", Likeness: record.Swapped, Of: 1},
		{Number: "LV.1987/O42", Likeness: record.LooksAlike, Of: 2},
		{Number: "lv 1987 42", Of: 3},
		{Number: "LV.1987/42", Of: 4},
		{Number: "LV.1987/0042", Of: 5},
	}
	var got []int
	for _, s := range record.Nearest("LV.1987/42", found, 3) {
		got = append(got, s.Of)
	}
	if !slices.Equal(got, []int{5, 3, 2}) {
		t.Errorf("got %v, want the two that fold alike, then the one that looks alike", got)
	}
}
