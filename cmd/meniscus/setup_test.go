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
