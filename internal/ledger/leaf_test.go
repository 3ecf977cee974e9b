package ledger_test

import (
	"encoding/hex"
	"encoding/json"
	"testing"
	"time"

	"github.com/google/uuid"

	"meniscus/internal/ledger"
)

// The bytes of a leaf are for ever: every checkpoint that someone keeps is of them.
func TestTheBytesOfALeafAreForEver(t *testing.T) {
	t.Parallel()
	system, id := "catalogue", "47\"11\u2028<é>\n"
	digest, _ := hex.DecodeString("015abd7f5cc57a2dd94b7590f04ad8084273905ee33ec5cebeae62276a97f862")
	leaf := ledger.Leaf{Sequence: 7, SealedAt: time.Date(2026, 3, 2, 9, 30, 0, 120_000_999, time.FixedZone("", 3600)),
		Entry: uuid.MustParse("0193a5b4-7c1e-7d2f-9a64-3c2f1f0f7a10"), Kind: "treatment",
		Record: uuid.MustParse("0193a5b4-7c1e-7d2f-9a64-3c2f1f0f7a11"), Revision: 2, Act: ledger.Amended,
		Request:    uuid.MustParse("0193a5b4-7c1e-7d2f-9a64-3c2f1f0f7a12"),
		RecordedAt: time.Date(2026, 3, 2, 8, 29, 59, 0, time.UTC),
		RecordedBy: uuid.MustParse("0193a5b4-7c1e-7d2f-9a64-3c2f1f0f7a13"), Digest: digest}
	const before = `{"sequence":7,"sealedAt":"2026-03-02T08:30:00.12Z","entry":"0193a5b4-7c1e-7d2f-9a64-3c2f1f0f7a10",` +
		`"kind":"treatment","record":"0193a5b4-7c1e-7d2f-9a64-3c2f1f0f7a11","revision":2,"act":"amended",` +
		`"request":"0193a5b4-7c1e-7d2f-9a64-3c2f1f0f7a12","recordedAt":"2026-03-02T08:29:59Z",` +
		`"recordedBy":"0193a5b4-7c1e-7d2f-9a64-3c2f1f0f7a13"`
	const after = `,"digest":"015abd7f5cc57a2dd94b7590f04ad8084273905ee33ec5cebeae62276a97f862"}`
	if got := string(leaf.Text()); got != before+after {
		t.Errorf("got %s, want %s", got, before+after)
	}
	// printf '\0%s' "$TEXT" | sha256sum
	const want = "18c749c365e2b3aa0f48bcd3f76cef541950c7b1fc1bdc56c1a37c3fbce6df72"
	if hash := leaf.Hash(); hex.EncodeToString(hash[:]) != want {
		t.Errorf("got %x, want %s", hash[:], want)
	}
	leaf.System, leaf.SystemID = &system, &id
	const source = `,"source":{"system":"catalogue","recordId":"47\"11` + "\u2028" + `<é>\n"}`
	if got := string(leaf.Text()); got != before+source+after || !json.Valid([]byte(got)) {
		t.Errorf("got %s, want %s", got, before+source+after)
	}
}
