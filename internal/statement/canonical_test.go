package statement_test

import (
	"testing"

	"meniscus/internal/statement"
)

func TestCanonical(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		a, b string
		want bool
	}{
		{`{"a":1,"b":[{"c":2,"d":3}]}`, "{ \"b\" : [ {\"d\":3, \"c\":2} ],\n\"a\":1 }", true},
		{`{"a":"é"}`, `{"a":"\u00e9"}`, true},
		{`{"a":"é"}`, `{"a":"e\u0301"}`, false}, // the letter, and a letter with a mark: two texts
		{`{"a":20.0}`, `{"a":20.00}`, false},
		{`{"a":100}`, `{"a":1e2}`, false},
		{`{"a":[1,2]}`, `{"a":[2,1]}`, false},
		{`{"a":null}`, `{}`, false},
	} {
		if got := statement.Same([]byte(c.a), []byte(c.b)); got != c.want {
			t.Errorf("%s and %s: got the same %v, want %v", c.a, c.b, got, c.want)
		}
	}
}
