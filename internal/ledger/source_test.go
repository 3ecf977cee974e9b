package ledger_test

import (
	"strings"
	"testing"

	"meniscus/internal/ledger"
)

func TestAnEntryOfASourceComesApartAgain(t *testing.T) {
	t.Parallel()
	body := `{"reason":"Why.","statement":{"a":1}}`
	sourced := string(ledger.FromSource([]byte(body), []byte(`{"a":1}`)))
	// sha256sum of {"a":1}
	const want = "015abd7f5cc57a2dd94b7590f04ad8084273905ee33ec5cebeae62276a97f862"
	if digest, rest := ledger.SaidBySource(sourced); digest != want || rest != body {
		t.Errorf("got %q and %q, want %s and %s", digest, rest, want, body)
	}
	for _, other := range []string{body, "", "{}", `{"sourceDigest":"`, sourced[:60], strings.Replace(sourced, "source", "other", 1)} {
		if digest, rest := ledger.SaidBySource(other); digest != "" || rest != other {
			t.Errorf("%s: got %q and %q, want it whole", other, digest, rest)
		}
	}
}
