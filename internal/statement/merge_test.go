package statement_test

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"testing"

	"github.com/google/go-cmp/cmp"

	"meniscus/internal/statement"
)

// TestMergePatch holds Merge against the test cases of RFC 7396, appendix A, and the document of its section 3.
func TestMergePatch(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ target, patch, want string }{
		{`{"a":"b"}`, `{"a":"c"}`, `{"a":"c"}`},
		{`{"a":"b"}`, `{"b":"c"}`, `{"a":"b","b":"c"}`},
		{`{"a":"b"}`, `{"a":null}`, `{}`},
		{`{"a":"b","b":"c"}`, `{"a":null}`, `{"b":"c"}`},
		{`{"a":["b"]}`, `{"a":"c"}`, `{"a":"c"}`},
		{`{"a":"c"}`, `{"a":["b"]}`, `{"a":["b"]}`},
		{`{"a":{"b":"c"}}`, `{"a":{"b":"d","c":null}}`, `{"a":{"b":"d"}}`},
		{`{"a":[{"b":"c"}]}`, `{"a":[1]}`, `{"a":[1]}`},
		{`["a","b"]`, `["c","d"]`, `["c","d"]`},
		{`{"a":"b"}`, `["c"]`, `["c"]`},
		{`{"a":"foo"}`, `null`, `null`},
		{`{"a":"foo"}`, `"bar"`, `"bar"`},
		{`{"e":null}`, `{"a":1}`, `{"e":null,"a":1}`},
		{`[1,2]`, `{"a":"b","c":null}`, `{"a":"b"}`},
		{`{}`, `{"a":{"bb":{"ccc":null}}}`, `{"a":{"bb":{}}}`},
		{`{"title":"Goodbye!","author":{"givenName":"John","familyName":"Doe"},"tags":["example","sample"],"content":"This will be unchanged"}`,
			`{"title":"Hello!","phoneNumber":"+01-123-456-7890","author":{"familyName":null},"tags":["example"]}`,
			`{"title":"Hello!","author":{"givenName":"John"},"tags":["example"],"content":"This will be unchanged","phoneNumber":"+01-123-456-7890"}`},
	} {
		if got := string(statement.Merge([]byte(c.target), []byte(c.patch))); got != c.want {
			t.Errorf("%s patched with %s: got %s, want %s", c.target, c.patch, got, c.want)
		}
	}
	const target, want = `{"z":20.00,"a":{"n":1e2,"m":"\u00e9"}}`, `{"z":20.00,"a":{"n":1e2},"b":1.10}`
	if got := string(statement.Merge([]byte(target), []byte(`{"b":1.10,"a":{"m":null}}`))); got != want {
		t.Errorf("got %s, want the order and the digits kept: %s", got, want)
	}
}

// mergePatch is the function of RFC 7396, section 2, as it is written there.
func mergePatch(target, patch any) any {
	changes, isObject := patch.(map[string]any)
	if !isObject {
		return patch
	}
	merged, isObject := target.(map[string]any)
	if !isObject {
		merged = map[string]any{}
	}
	for name, value := range changes {
		if value == nil {
			delete(merged, name)
		} else {
			merged[name] = mergePatch(merged[name], value)
		}
	}
	return merged
}

// TestMergePatchOfAnything compares Merge with the RFC's function for values of all
// shapes, and Differences with what Merge did: put in place, the changes make the target
// into the result.
func TestMergePatchOfAnything(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewPCG(7396, 2))
	for range 20_000 {
		target, patch := anything(rng, 4), anything(rng, 4)
		got := statement.Merge(encoded(t, target), encoded(t, patch))
		want := mergePatch(decoded(t, encoded(t, target)), patch)
		if diff := cmp.Diff(want, decoded(t, got)); diff != "" {
			t.Fatalf("%s patched with %s (-want +got)\n%s", encoded(t, target), encoded(t, patch), diff)
		}
		changed, _ := statement.Differences(encoded(t, target), got, 1000)
		if diff := cmp.Diff(want, applied(t, target, changed)); diff != "" {
			t.Fatalf("from %s to %s: the changes %v (-want +got)\n%s", encoded(t, target), got, changed, diff)
		}
	}
}

// anything is a value of some shape, at most deep levels deep.
func anything(rng *rand.Rand, deep int) any {
	switch n := rng.IntN(8); {
	case deep > 0 && n < 4:
		members := map[string]any{}
		for range rng.IntN(4) {
			members[[]string{"a", "b", "c/d", "~", ""}[rng.IntN(5)]] = anything(rng, deep-1)
		}
		return members
	case deep > 0 && n == 4:
		items := make([]any, rng.IntN(4))
		for i := range items {
			items[i] = anything(rng, deep-1)
		}
		return items
	case n == 5:
		return nil
	case n == 6:
		return fmt.Sprint(rng.IntN(3))
	}
	return float64(rng.IntN(3))
}

func encoded(t *testing.T, v any) []byte {
	t.Helper()
	b, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func decoded(t *testing.T, b []byte) (v any) {
	t.Helper()
	if err := json.Unmarshal(b, &v); err != nil {
		t.Fatal(err)
	}
	return v
}
