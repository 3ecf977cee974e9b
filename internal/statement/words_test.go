package statement_test

import (
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"meniscus/internal/statement"
)

// TestIDsIn: every id is found, at any depth, except those of the entry's origin.
func TestIDsIn(t *testing.T) {
	t.Parallel()
	a, b, c, d := uuid.UUID{1}.String(), uuid.UUID{2}.String(), uuid.UUID{3}.String(), uuid.UUID{4}.String()
	var found []string
	body := `{"statement":{"specimen":{"id":"` + a + `"},"removal":{"treatments":["` + b +
		`","x"]},"coats":2},"mergedInto":"` + c + `","receivedFrom":{"institution":"` + d + `"}}`
	if err := statement.IDsIn(body, func(id uuid.UUID) { found = append(found, id.String()) }); err != nil {
		t.Fatal(err)
	}
	slices.Sort(found)
	if diff := cmp.Diff([]string{a, b, c}, found); diff != "" {
		t.Errorf("(-want +got)\n%s", diff)
	}
	if statement.IDsIn(`{"statement":`, func(uuid.UUID) {}) == nil {
		t.Error("torn words: got no error")
	}
}

// TestEntryFrom: unknown members of an entry from elsewhere are refused.
func TestEntryFrom(t *testing.T) {
	t.Parallel()
	if e, err := statement.EntryFrom(`{"statement":{"code":"B"},"redactedRevisions":[1]}`); err != nil ||
		string(e.Statement) != `{"code":"B"}` || len(e.Redacted) != 1 {
		t.Errorf("got %+v, %v", e, err)
	}
	for _, body := range []string{`{"statement":{},"mine":1}`, `{"mergedInto":"x"}`, `{"statement":`} {
		if _, err := statement.EntryFrom(body); err == nil {
			t.Errorf("%s: got no error", body)
		}
	}
}

// TestShown: members that earlier versions wrote get their present names, and texts that
// contain such a name stay.
func TestShown(t *testing.T) {
	t.Parallel()
	for body, want := range map[string]string{
		`{"receivedFrom":{"name":"B","place":7},"statement":{}}`:    `{"receivedFrom":{"name":"B","sequence":7},"statement":{}}`,
		`{"statement":{"displayName":"Ilse Varga"}}`:                `{"statement":{"name":"Ilse Varga"}}`,
		`{"statement":{"expiry":{"edtf":"2027"}}}`:                  `{"statement":{"expires":{"edtf":"2027"}}}`,
		`{"statement":{"remarks":"A \"place\": \"expiry\": gone"}}`: `{"statement":{"remarks":"A \"place\": \"expiry\": gone"}}`,
	} {
		if got := statement.Shown(body); got != want {
			t.Errorf("got %s, want %s", got, want)
		}
	}
}
