package ledger_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"golang.org/x/mod/sumdb/tlog"

	"meniscus/internal/ledger"
)

const entries = 20

// original is a log of twenty entries, and its checkpoints of five, thirteen and twenty.
func original(t *testing.T) (lines []ledger.Logged, points []ledger.Checkpoint) {
	t.Helper()
	l := &log{}
	for i := range int64(entries) {
		leaf := tlog.RecordHash(fmt.Append(nil, "entry ", i))
		l.add(t, leaf)
		lines = append(lines, ledger.Logged{Sequence: i + 1, Name: fmt.Sprintf("entry %d", i+1), Leaf: &leaf,
			Kept: l.kept[i]})
	}
	for _, size := range []int64{5, 13, entries} {
		points = append(points, ledger.Checkpoint{Size: size, Root: l.root(t, size)})
	}
	return lines, points
}

// forged makes the hashes that are kept anew, up to a level.
func forged(t *testing.T, lines []ledger.Logged, levels int) {
	t.Helper()
	var tree ledger.Tree
	for i, line := range lines {
		kept, err := tree.Add(*line.Leaf)
		if err != nil {
			t.Fatal(err)
		}
		n := min(len(kept), levels*tlog.HashSize)
		lines[i].Kept = slices.Concat(kept[:n], line.Kept[n:])
	}
}

func altered(lines []ledger.Logged, at int) []ledger.Logged {
	other := tlog.RecordHash([]byte("other words"))
	lines[at-1].Leaf = &other
	return lines
}

// What was altered, removed or reordered is named, whoever altered the hashes with it.
func TestTheFirstDifferenceIsNamed(t *testing.T) {
	t.Parallel()
	for name, tc := range map[string]struct {
		change func(t *testing.T, lines []ledger.Logged) []ledger.Logged
		want   []string // in this order among the sentences
		proven int64
	}{
		"nothing": {func(_ *testing.T, l []ledger.Logged) []ledger.Logged { return l }, nil, entries},
		"nothing, and no hashes kept": {func(_ *testing.T, l []ledger.Logged) []ledger.Logged {
			for i := range l {
				l[i].Kept = nil
			}
			return l
		}, nil, entries},
		"altered": {func(_ *testing.T, l []ledger.Logged) []ledger.Logged { return altered(l, 8) },
			[]string{"The entry 8 is not the one that was logged", "checkpoint of 13 entries proves what was logged: the first " +
				"that differs is the entry 8"}, 5},
		"altered with its own hash": {func(t *testing.T, l []ledger.Logged) []ledger.Logged {
			forged(t, altered(l, 7), 1)
			return l
		}, []string{"over the entries up to the entry 8 are not those", "do not give the checkpoint of 13"}, 5},
		"altered with all hashes": {func(t *testing.T, l []ledger.Logged) []ledger.Logged {
			forged(t, altered(l, 7), 64)
			return l
		}, []string{"one of the numbers 6 to 13 was altered"}, 5},
		"altered, and no hashes kept": {func(_ *testing.T, l []ledger.Logged) []ledger.Logged {
			for i := range l {
				l[i].Kept = nil
			}
			return altered(l, 14)
		}, []string{"one of the numbers 14 to 20 was altered"}, 13},
		"removed": {func(_ *testing.T, l []ledger.Logged) []ledger.Logged { return slices.Delete(l, 8, 9) },
			[]string{"No entry has the sequence number 9.",
				"do not give the checkpoint of 13 entries; the first that differs is that with the number 9"},
			5},
		"removed, its hash kept": {func(_ *testing.T, l []ledger.Logged) []ledger.Logged {
			l[8].Leaf = nil
			return l
		}, []string{"No entry has the sequence number 9.", "first that differs is that with the number 9"}, 5},
		"several removed": {func(_ *testing.T, l []ledger.Logged) []ledger.Logged { return slices.Delete(l, 4, 9) },
			[]string{"No entry has the sequence numbers 5 to 9.",
				"checkpoint of 5 entries; the first that differs is that with the numbers 5 to 9"}, 0},
		"the last removed": {func(_ *testing.T, l []ledger.Logged) []ledger.Logged { return l[:18] },
			[]string{"has 20 entries, and the last one here has the sequence number 18: number 19 is the first"}, 13},
		"all removed": {func(_ *testing.T, l []ledger.Logged) []ledger.Logged { return nil },
			[]string{"number 1 is the first", "number 1 is the first", "number 1 is the first"}, 0},
		"one exchanged for another": {func(_ *testing.T, l []ledger.Logged) []ledger.Logged {
			l[9].Leaf, l[15].Leaf = l[15].Leaf, l[9].Leaf
			return l
		}, []string{"The entry 10 is not the one that was logged", "is the entry 10", "The entry 16 is not"}, 5},
		"lines in another order": {func(_ *testing.T, l []ledger.Logged) []ledger.Logged {
			l[9], l[10] = l[10], l[9]
			return l
		}, []string{"sequence number 10.", "The entry 10 stands after number 11"}, 5},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			lines, points := original(t)
			var said []string
			c := ledger.NewCheck(func(s string) { said = append(said, s) }, points[2], points[0], points[1])
			for _, line := range tc.change(t, lines) {
				if err := c.Entry(line); err != nil {
					t.Fatal(err)
				}
			}
			c.End()
			if c.Wrong != len(said) || c.Proven() != tc.proven || (len(tc.want) == 0) != (len(said) == 0) {
				t.Errorf("got %d wrong, %d proven, and %q; want %d proven", c.Wrong, c.Proven(), said, tc.proven)
			}
			rest := strings.Join(said, "\n")
			for _, want := range tc.want {
				_, after, found := strings.Cut(rest, want)
				if !found {
					t.Fatalf("got %q, want %q in it", said, want)
				}
				rest = after
			}
		})
	}
}
