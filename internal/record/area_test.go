package record_test

import (
	"strings"
	"testing"
	"unicode/utf8"

	"meniscus/internal/record"
)

func TestCheckArea(t *testing.T) {
	t.Parallel()
	deep := strings.TrimSuffix(strings.Repeat("a/", 200), "/")
	for _, row := range []struct{ path, code string }{
		{"whole", ""},
		{"skull", ""},
		{"skull/left-orbit", ""},
		{"Schädel/linke Augenhöhle", ""},
		{"череп/левая глазница", ""},
		{"גולגולת/ארובה שמאלית", ""},
		{"🦴/👩🏽‍🔬", ""},
		{"头骨/左眼眶", ""},
		{"wholemeal/crust", ""},
		{deep, ""},
		{strings.Repeat("a/", 256) + "a", "area-path-too-deep"},
		{strings.Repeat("x", record.MaxAreaLength+1), "area-path-too-long"},
		{"", "area-path-empty"},
		{"/skull", "area-path-empty-name"},
		{"skull/", "area-path-empty-name"},
		{"skull//orbit", "area-path-empty-name"},
		{"skull/ orbit", "area-path-spaces"},
		{"whole/skull", "area-path-whole"},
		{"skull/whole", "area-path-whole"},
		{"skull\x00", "area-path-control-character"},
		{"skull\torbit", "area-path-control-character"},
		{"skull/\xff", "area-path-not-utf-8"},
	} {
		if err := record.CheckArea(row.path); code(err) != row.code {
			t.Errorf("CheckArea(%.40q): got %v, want %q", row.path, err, row.code)
		}
	}
}

func FuzzCheckArea(f *testing.F) {
	for _, seed := range []string{"whole", "skull/left-orbit", "a//b", "\xff", "🦴/ b"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, path string) {
		if record.CheckArea(path) != nil {
			return
		}
		if !utf8.ValidString(path) || path == "" || strings.Contains("/"+path+"/", "//") {
			t.Errorf("%q names no place, and was taken", path)
		}
	})
}
