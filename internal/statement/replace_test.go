package statement_test

import (
	"testing"

	"meniscus/internal/statement"
)

// TestReplaced: a value is replaced wherever it stands under a pointer, compared as it is written, and
// nothing else is touched, digits and order included.
func TestReplaced(t *testing.T) {
	t.Parallel()
	const words = `{"b":20.0,"a":[{"id":"x"},{"id":"y"}],"c":{"a":"x","d":20},"x":null}`
	for _, test := range []struct{ from, to, under, want string }{
		{`"x"`, `"z"`, "", `{"b":20.0,"a":[{"id":"z"},{"id":"y"}],"c":{"a":"z","d":20},"x":null}`},
		{`"x"`, `"z"`, "/a", `{"b":20.0,"a":[{"id":"z"},{"id":"y"}],"c":{"a":"x","d":20},"x":null}`},
		{`"y"`, `"z"`, "/a/1/id", `{"b":20.0,"a":[{"id":"x"},{"id":"z"}],"c":{"a":"x","d":20},"x":null}`},
		{`20`, `21`, "", `{"b":20.0,"a":[{"id":"x"},{"id":"y"}],"c":{"a":"x","d":21},"x":null}`},
		{`{"d": 20, "a": "x"}`, `[1]`, "", `{"b":20.0,"a":[{"id":"x"},{"id":"y"}],"c":[1],"x":null}`},
		{`"x"`, `"z"`, "/nowhere", words},
		{`"x"`, `"z"`, "/c/a/more", words},
		{`null`, `1`, "", `{"b":20.0,"a":[{"id":"x"},{"id":"y"}],"c":{"a":"x","d":20},"x":1}`},
	} {
		if got := string(statement.Replaced([]byte(words), []byte(test.from), []byte(test.to), test.under)); got != test.want {
			t.Errorf("%s by %s under %q: got %s, want %s", test.from, test.to, test.under, got, test.want)
		}
	}
}
