package record_test

import (
	"fmt"
	"testing"

	"pgregory.net/rapid"

	"meniscus/internal/record"
)

func batchID(i int) record.Ref { return id(fmt.Sprint("batch ", i)) }

// madeOf are batches; batch i is a solution of those in from[i].
func madeOf(from [][]int) (map[record.Ref]record.Value, int) {
	batches, inputs := map[record.Ref]record.Value{}, 0
	for i, list := range from {
		var in []record.Input
		for _, k := range list {
			in = append(in, record.Input{Used: record.Used{Batch: batchID(k)}, Part: "stock"})
			inputs++
		}
		batches[batchID(i)] = &record.Batch{Type: "solution", Inputs: record.Give(in)}
	}
	return batches, inputs
}

// tellSolvent makes a batch say its solvent.
func tellSolvent(batch record.Value) {
	batch.(*record.Batch).Solvents = record.Give([]record.SolventShare{{Material: "acetone"}})
}

func levels(n, wide int) [][]int {
	from := make([][]int, n*wide)
	for i := wide; i < len(from); i++ {
		for k := range wide {
			from[i] = append(from[i], (i/wide-1)*wide+k)
		}
	}
	return from
}

func round(n int) [][]int {
	from := make([][]int, n)
	for i := range from {
		from[i] = []int{(i + 1) % n}
	}
	return from
}

// To find the solvents of thousands of treatments, each input is looked at a few
// times, in a chain, in levels each made from all of the one before, and in a circle.
func TestSolventsAreLookedForOnce(t *testing.T) {
	t.Parallel()
	for name, from := range map[string][][]int{
		"a chain": levels(2000, 1), "a diamond": levels(40, 2), "100 inputs a level": levels(5, 100), "a circle": round(2000),
		"of itself": round(1),
	} {
		batches, inputs := madeOf(from)
		last := batchID(len(from) - 1)
		solvents := record.SolventsIn(batches)
		used := &record.Treatment{
			Action: record.ActionCoating, Uses: record.Give([]record.Use{{Used: record.Used{Batch: last}}}),
		}
		score := func() bool {
			c := record.Score(record.Dossier{Value: used, Others: batches, Solvents: solvents})
			for _, gap := range c.Missing {
				if gap.Rule == "solvents" {
					return true
				}
			}
			return false
		}
		for range 100 {
			if !score() {
				t.Fatalf("%s: the solvents are not missing", name)
			}
		}
		if most := 3*inputs + 100*100; solvents.Looked() > most {
			t.Errorf("%s: looked %d times at %d inputs, want at most %d", name, solvents.Looked(), inputs, most)
		}
		tellSolvent(batches[batchID(0)])
		if solvents = record.SolventsIn(batches); score() {
			t.Errorf("%s: the first says its solvent, and it is still missing", name)
		}
	}
}

// A batch's solvents are said if it or any ancestor says them. The reference model
// walks until nothing is new.
func TestSolventsAgreeWithTheClosure(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 8).Draw(t, "batches")
		from := make([][]int, n)
		told := make([]bool, n)
		for i := range n {
			from[i] = rapid.SliceOfN(rapid.IntRange(0, n-1), 0, 3).Draw(t, "from")
		}
		batches, _ := madeOf(from)
		for i := range n {
			if told[i] = rapid.Bool().Draw(t, "says"); told[i] {
				tellSolvent(batches[batchID(i)])
			}
		}
		for range n {
			for i := range n {
				for _, k := range from[i] {
					told[i] = told[i] || told[k]
				}
			}
		}
		for i := range n {
			c := record.Score(record.Dossier{Value: batches[batchID(i)], Others: batches})
			missing := false
			for _, gap := range c.Missing {
				missing = missing || gap.Rule == "solvents"
			}
			if missing == told[i] {
				t.Fatalf("%v: %d: got missing %v, want %v", from, i, missing, !told[i])
			}
		}
	})
}
