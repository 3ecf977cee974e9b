package httpapi_test

import (
	"fmt"
	"net/http"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"meniscus/internal/pgtest"
)

// Wherever the wire is cut, each record that a source states among others is recorded
// whole or not at all, and the same request again makes the rest.
func TestCutWireNeverTearsWhatSourcesSay(t *testing.T) {
	t.Parallel()
	const together = 3
	for name, sent := range map[string]pgtest.Sent{"request lost": pgtest.SentNothing, "reply lost": pgtest.SentAll} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			db := pgtest.New(t)
			s, wire := wired(t, db)
			ask := func(n int) reply {
				var items array
				for i := range together {
					items = append(items, item("treatment", fmt.Sprintf("%d-%d", n, i), sprawling(together*n + i)["statement"]))
				}
				return s.do(http.MethodPost, "/v1/source-records", object{"items": items})
			}
			ask(0).want(200) // looks the key up
			ask(1).want(200) // prepares the statements, with the key from memory
			before := rows(t, db)
			wire.Cut(0, sent) // counts, and cuts nothing
			ask(2).want(200)
			writes := wire.Mend()
			whole := grown(before, rows(t, db))
			if whole["entry"] != 4*together || writes < 2*together {
				t.Fatalf("an ordinary request made %v in %d writes; the test wants one that sprawls", whole, writes)
			}
			for n := 1; n <= writes; n++ {
				before := rows(t, db)
				wire.Cut(n, sent)
				ask(100+n).wantProblem(http.StatusServiceUnavailable, "database-unavailable")
				wire.Settle()
				made := grown(before, rows(t, db))["entry"]
				if made%4 != 0 {
					t.Errorf("cut at write %d of %d: torn: %d entries", n, writes, made)
				}
				want := strings.TrimSpace(strings.Repeat("unchanged ", made/4) + strings.Repeat("made ", together-made/4))
				if got := ask(100 + n).want(200).outcomes(); got != want {
					t.Errorf("cut at write %d of %d: got %s again, want %s", n, writes, got, want)
				}
				if diff := cmp.Diff(whole, grown(before, rows(t, db))); diff != "" {
					t.Errorf("cut at write %d of %d: not one record each after the retry (-want +got):\n%s", n, writes, diff)
				}
			}
		})
	}
}
