package statement_test

import (
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"meniscus/internal/record"
	"meniscus/internal/statement"
)

// TestNamedIn: every id is found, at any depth, except those of the entry's origin.
func TestNamedIn(t *testing.T) {
	t.Parallel()
	a, b, c, d := uuid.UUID{1}.String(), uuid.UUID{2}.String(), uuid.UUID{3}.String(), uuid.UUID{4}.String()
	var found []string
	body := `{"statement":{"specimen":{"id":"` + a + `"},"removal":{"treatments":["` + b +
		`","x"]},"coats":2,"images":[{"url":"https://b.example/2","bytes":7},{"url":"https://b.example/1","sha256":"ab",` +
		`"mediaType":"image/tiff","stage":"after"},{"url":"https://b.example/2","bytes":7}]},` +
		`"mergedInto":"` + c + `","receivedFrom":{"institution":"` + d + `"}}`
	files, err := statement.NamedIn(body, func(id uuid.UUID) { found = append(found, id.String()) })
	if err != nil {
		t.Fatal(err)
	}
	slices.Sort(found)
	if diff := cmp.Diff([]string{a, b, c}, found); diff != "" {
		t.Errorf("(-want +got)\n%s", diff)
	}
	want := []statement.File{{URL: "https://b.example/1", SHA256: "ab", MediaType: "image/tiff"}, {URL: "https://b.example/2", Bytes: 7}}
	if diff := cmp.Diff(want, files); diff != "" {
		t.Errorf("files (-want +got)\n%s", diff)
	}
	if _, err := statement.NamedIn(`{"statement":`, func(uuid.UUID) {}); err == nil {
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
		`{"receivedFrom":{"name":"B","place":7},"statement":{}}`: `{"receivedFrom":{"name":"B","sequence":7},"statement":{}}`,
		`{"mergedInto":"` + uuid.UUID{1}.String() + `"}`:         `{"mergedInto":{"id":"` + uuid.UUID{1}.String() + `"}}`,
		`{"statement":{"sampleOf":{"specimen":"` + uuid.UUID{2}.String() +
			`","area":"skull"}}}`: `{"statement":{"sampleOf":{"specimen":{"id":"` +
			uuid.UUID{2}.String() + `"},"area":"skull"}}}`,
		`{"statement":{"partOf":{"specimen":{"id":"` + uuid.UUID{3}.String() +
			`"}}}}`: `{"statement":{"partOf":{"specimen":{"id":"` + uuid.UUID{3}.String() + `"}}}}`,
		`{"statement":{"displayName":"Ilse Varga"}}`:                `{"statement":{"name":"Ilse Varga"}}`,
		`{"statement":{"expiry":{"edtf":"2027"}}}`:                  `{"statement":{"expires":{"edtf":"2027"}}}`,
		`{"statement":{"remarks":"A \"place\": \"expiry\": gone"}}`: `{"statement":{"remarks":"A \"place\": \"expiry\": gone"}}`,
	} {
		if got := statement.Shown(body); got != want {
			t.Errorf("got %s, want %s", got, want)
		}
	}
}

// References of earlier versions, which were ids without an object, are read and shown
// as the present ones; texts that look like them stay.
func TestReferencesOfEarlierVersions(t *testing.T) {
	t.Parallel()
	const a, b = "0193a5b4-7c1e-7d2f-9a64-3c2f1f0f7a10", "0193A5B4-7C1E-7D2F-9A64-3C2F1F0F7A11"
	was := `{"statement":{"specimen":{"id":"` + a + `"},"action":"removal","areas":{"paths":["skull"]},"dates":{"edtf":"2001"},` +
		`"event":"` + a + `","plan":"` + b + `","relations":[{"relation":"over","treatment":"` + a + `"}],` +
		`"removal":{"treatments":["` + a + `","` + b + `"],"left":"reduced"},"test":{"layer":"` + b + `","observed":"softens"},` +
		`"sampling":{"sample":"` + a + `"},"remarks":"\"plan\":\"` + a + `\""}}`
	of := func(id string) string { return `{"id":"` + id + `"}` }
	is := `{"statement":{"specimen":` + of(a) + `,"action":"removal","areas":{"paths":["skull"]},"dates":{"edtf":"2001"},` +
		`"event":` + of(a) + `,"plan":` + of(b) + `,"relations":[{"relation":"over","treatment":` + of(a) + `}],` +
		`"removal":{"treatments":[` + of(a) + `,` + of(b) + `],"left":"reduced"},"test":{"layer":` + of(b) + `,"observed":"softens"},` +
		`"sampling":{"sample":` + of(a) + `},"remarks":"\"plan\":\"` + a + `\""}}`
	if got := statement.Shown(was); got != is {
		t.Errorf("got %s, want %s", got, is)
	}
	if got := statement.Shown(is); got != is {
		t.Errorf("got %s, want it as it is", got)
	}
	r, err := statement.OfEntry(record.KindTreatment, &was)
	if err != nil {
		t.Fatal(err)
	}
	v := r.Value.(*record.Treatment)
	for n, got := range []record.Ref{v.Event, v.Relations[0].Treatment, v.Removal.Treatments[0], v.Sampling.Sample} {
		if got != uuid.MustParse(a) {
			t.Errorf("reference %d: got %v, want %s", n, got, a)
		}
	}
	for n, got := range []record.Ref{v.Plan.Value, v.Removal.Treatments[1], v.Test.Layer} {
		if got != uuid.MustParse(b) {
			t.Errorf("reference %d: got %v, want %s", n, got, b)
		}
	}
}
