package views

import (
	"testing"

	"github.com/google/go-cmp/cmp"
)

// A list that fits is given whole and nothing is said; one that does not is cut,
// and the answer says so.
func TestNoListIsCutInSilence(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		list, want []int
		cut        bool
	}{{[]int{1, 2}, []int{1, 2}, false}, {[]int{1, 2, 3}, []int{1, 2}, true}, {nil, nil, false}} {
		cut := false
		if diff := cmp.Diff(c.want, listed(&cut, c.list, 2)); diff != "" || cut != c.cut {
			t.Errorf("%v: cut %v, want %v (-want +got)\n%s", c.list, cut, c.cut, diff)
		}
		want := []string{"one"}
		if c.cut {
			want = append(want, leftOutCaution)
		}
		if diff := cmp.Diff(want, cautions(cut, "one")); diff != "" {
			t.Errorf("%v: the cautions (-want +got)\n%s", c.list, diff)
		}
	}
	cut := true
	if listed(&cut, []int{1}, 2); !cut {
		t.Error("a list that fits: got the cut of another forgotten")
	}
}
