package plain_test

import (
	"fmt"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/google/go-cmp/cmp"

	"meniscus/internal/plain"
)

func many(n int) []string {
	var all []string
	for i := range n {
		all = append(all, fmt.Sprint("line ", i+1))
	}
	return all
}

// Cut paragraphs are counted, in reading order; kept ones are there.
func TestShort(t *testing.T) {
	t.Parallel()
	for name, tt := range map[string]struct {
		said, kept, lines int
		more              string
	}{
		"as many as there is room for": {18, 1, 20, ""},
		"one too many":                 {19, 1, 20, "2 more at https://meniscus.example/x"},
		"many":                         {100, 1, 20, "83 more at https://meniscus.example/x"},
		"what is kept fills it":        {3, 18, 20, "3 more at https://meniscus.example/x"},
		"more is kept than fits":       {3, 30, 32, "3 more at https://meniscus.example/x"},
		"all of it is kept":            {0, 30, 31, ""},
	} {
		var text plain.Text
		text.Keep("The answer.")
		text.Say(many(tt.said)...)
		text.Keep(many(tt.kept)...)
		got := text.Short("https://meniscus.example/x")
		lines := strings.Split(strings.TrimSuffix(got, "\n"), "\n")
		if len(lines) != tt.lines || lines[0] != "The answer." {
			t.Errorf("%s: got %d lines, want %d, the answer first:\n%s", name, len(lines), tt.lines, got)
		}
		if last := lines[len(lines)-1]; tt.more != "" && last != tt.more || tt.more == "" && strings.Contains(got, "more at") {
			t.Errorf("%s: got the last line %q, want %q", name, last, tt.more)
		}
		for _, kept := range many(tt.kept) {
			if !strings.Contains(got, kept+"\n") {
				t.Errorf("%s: %q was kept, and is not there:\n%s", name, kept, got)
			}
		}
		if whole := strings.Count(text.Whole(), "\n"); whole != 1+tt.said+tt.kept {
			t.Errorf("%s: got %d lines of all, want %d", name, whole, 1+tt.said+tt.kept)
		}
	}
}

// A paragraph counts by its lines; those after the first are indented to its text.
func TestLinesAreWrapped(t *testing.T) {
	t.Parallel()
	var text plain.Text
	text.Steps(strings.Repeat("word ", 30), "Then stop.")
	text.Say("- " + strings.Repeat("word ", 30))
	text.Say(strings.Repeat("x", 300))
	want := []string{
		"1. " + strings.TrimSpace(strings.Repeat("word ", 19)), "   " + strings.TrimSpace(strings.Repeat("word ", 11)),
		"2. Then stop.",
		"- " + strings.TrimSpace(strings.Repeat("word ", 19)), "  " + strings.TrimSpace(strings.Repeat("word ", 11)),
		strings.Repeat("x", 300),
	}
	got := strings.Split(strings.TrimSuffix(text.Whole(), "\n"), "\n")
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("lines (-want +got):\n%s", diff)
	}
	for _, line := range got[:5] {
		if utf8.RuneCountInString(line) > plain.Width {
			t.Errorf("got %d columns: %q", utf8.RuneCountInString(line), line)
		}
	}
}

// Text that a user wrote moves no cursor.
func TestNothingMovesTheCursor(t *testing.T) {
	t.Parallel()
	var text plain.Text
	text.Say("a\x1b[2Jb\rc\u0085d\u202ee\u2066f", "گنجینه\u200cی ۴۲", " \n\t ", "")
	if got, want := text.Whole(), "a [2Jb c def\nگنجینه\u200cی ۴۲\n"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}
