package statement_test

import (
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"meniscus/internal/statement"
)

func TestDifferences(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		before, after string
		want          []string
	}{
		{`{"a":1,"b":[1,2]}`, `{"b":[1,2],"a":1}`, nil},
		{`{"a":20.0}`, `{"a":20.00}`, []string{"/a: 20.0 to 20.00"}},
		{`{"a":{"b":1,"c":"x"}}`, `{"a":{"b":2}}`, []string{"/a/b: 1 to 2", `/a/c: "x" to `}},
		{`{"a":1}`, `{"a":{"b":2}}`, []string{`/a: 1 to {"b":2}`}},
		{`{"l":[{"n":1},2,3]}`, `{"l":[{"n":9},2]}`, []string{"/l/0/n: 1 to 9", "/l/2: 3 to "}},
		{`{"l":[]}`, `{"l":["x"]}`, []string{`/l/0:  to "x"`}},
		{`{"x":1,"a/b":1,"m~n":1}`, `{}`, []string{"/a~1b: 1 to ", "/m~0n: 1 to ", "/x: 1 to "}},
		{``, `{"a":1}`, []string{`:  to {"a":1}`}},
	} {
		var got []string
		changed, _ := statement.Differences([]byte(c.before), []byte(c.after), 10)
		for _, ch := range changed {
			got = append(got, ch.Pointer+": "+string(ch.Before)+" to "+string(ch.After))
		}
		if diff := cmp.Diff(c.want, got); diff != "" {
			t.Errorf("%s to %s (-want +got)\n%s", c.before, c.after, diff)
		}
	}
	if found, more := statement.Differences([]byte(`{}`), []byte(`{"a":1,"b":2,"c":3}`), 2); len(found) != 2 || more != 1 {
		t.Errorf("got %d changes and %d more, want 2 and 1", len(found), more)
	}
}

// applied puts changes in place, by their pointers.
func applied(t *testing.T, target any, changed []statement.Changed) any {
	t.Helper()
	value := decoded(t, encoded(t, target))
	for _, c := range slices.Backward(changed) { // items are taken from the end of a list
		if c.Pointer == "" {
			return decoded(t, c.After)
		}
		value = set(t, value, strings.Split(c.Pointer[1:], "/"), c)
	}
	return inOrder(t, value, changed)
}

// inOrder adds the items that were put behind the end of a list, the first first.
func inOrder(t *testing.T, value any, changed []statement.Changed) any {
	t.Helper()
	for _, c := range changed {
		if c.Before == nil && c.Pointer != "" {
			value = set(t, value, strings.Split(c.Pointer[1:], "/"), c)
		}
	}
	return value
}

func set(t *testing.T, value any, steps []string, c statement.Changed) any {
	t.Helper()
	step := strings.NewReplacer("~1", "/", "~0", "~").Replace(steps[0])
	inner := func(old any) any {
		if len(steps) > 1 {
			return set(t, old, steps[1:], c)
		}
		return decoded(t, c.After)
	}
	gone := len(steps) == 1 && c.After == nil
	switch v := value.(type) {
	case map[string]any:
		if gone {
			delete(v, step)
		} else {
			v[step] = inner(v[step])
		}
	case []any:
		i, err := strconv.Atoi(step)
		switch {
		case err != nil:
			t.Fatal(err)
		case gone:
			return v[:i]
		case i < len(v):
			v[i] = inner(v[i])
		case i == len(v):
			return append(v, inner(nil))
		}
		return v
	}
	return value
}
