package main

import (
	"bytes"
	"strings"
	"testing"
)

// A mistyped ROR id is refused before anything is made. 0zyxwvt21 has right
// check digits and is made up.
func TestFoundChecksTheROR(t *testing.T) {
	t.Setenv("MENISCUS_DATABASE_URL", "postgres://nobody@127.0.0.1:1/none")
	t.Setenv("MENISCUS_OWNER_DATABASE_URL", "postgres://nobody@127.0.0.1:1/none")
	for ror, code := range map[string]string{"0zyxwvt22": "ror-check-digits", "zyxwvt21": "ror-malformed",
		"0zyxwvt211": "ror-malformed"} {
		var out, errs bytes.Buffer
		err := run(t.Context(), []string{"found", "-name", "Museum on the Hill", "-person", "Ilse Varga", "-ror", ror},
			&out, &errs)
		if err == nil || !strings.Contains(err.Error(), code) {
			t.Errorf("%s: got %v, want %s", ror, err, code)
		}
	}
}

// The half of the earth is one that there is, and the institution's id is one.
func TestSeasonsAreOfAHalfOfTheEarth(t *testing.T) {
	t.Setenv("MENISCUS_OWNER_DATABASE_URL", "postgres://nobody@127.0.0.1:1/none")
	for _, args := range [][]string{{}, {"-of", "southern"},
		{"-institution", "0193a5b4-0000-7000-8000-0000000000a1", "-of", "eastern"}} {
		var out, errs bytes.Buffer
		err := run(t.Context(), append([]string{"seasons"}, args...), &out, &errs)
		if err == nil || !strings.Contains(err.Error(), "northern|southern|either") {
			t.Errorf("%v: got %v, want how it is called", args, err)
		}
	}
}
