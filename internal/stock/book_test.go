package stock

import (
	"fmt"
	"testing"

	"github.com/google/uuid"

	"meniscus/internal/edtf"
	"meniscus/internal/material"
	"meniscus/internal/quantity"
	"meniscus/internal/record"
	"meniscus/internal/solution"
)

func batchID(i int) record.Ref { return uuid.NewSHA1(uuid.Nil, fmt.Append(nil, i)) }

// booked are batches. Batch i is made from the batches in from[i], from a material
// of its own and from an input in words; every batch evaporated a little.
func booked(from [][]int) Records {
	out := Records{Batches: map[record.Ref]*record.Batch{}}
	millilitre := record.Give(quantity.Quantity{Value: quantity.MustDecimal("1"), Unit: quantity.Millilitre})
	unknown := record.Amount{Answer: record.AnswerUnknown}
	for i, list := range from {
		inputs := []record.Input{
			{Used: record.Used{Material: fmt.Sprint("resin-", i)}, Part: "solute", Amount: unknown},
			{Used: record.Used{Words: "old glue", Certainty: record.Unknown}, Part: "other", Amount: unknown},
		}
		for _, k := range list {
			inputs = append(inputs, record.Input{Used: record.Used{Batch: batchID(k)}, Part: "stock", Amount: millilitre})
		}
		b := &record.Batch{Code: fmt.Sprint("B-", i), Type: "solution",
			Made: record.Give(edtf.MustParse("2024-03")), Inputs: record.Give(inputs)}
		out.Batches[batchID(i)] = b
		out.Taken = append(out.Taken, Entry[*record.Batch]{batchID(i), 1, b})
		gone := record.AmountChange{Batch: batchID(i), Type: "evaporated",
			Amount: millilitre, Date: record.Give(edtf.MustParse("2024-02"))}
		out.Changes = append(out.Changes, Entry[*record.AmountChange]{uuid.NewSHA1(batchID(i), []byte("gone")), 1, &gone})
	}
	return out
}

// The contents of a batch are gathered from each ancestor once, however many ways lead
// to it. A list stops at its limit, counts the rest and leaves it open.
func TestWhatWentInIsGatheredOnce(t *testing.T) {
	t.Parallel()
	base, err := material.Load()
	if err != nil {
		t.Fatal(err)
	}
	net := func(n int, from func(i int) []int) [][]int {
		all := make([][]int, n)
		for i := range all {
			all[i] = from(i)
		}
		return all
	}
	below := func(i, wide int) (list []int) {
		for k := range wide {
			if i >= wide {
				list = append(list, (i/wide-1)*wide+k)
			}
		}
		return list
	}
	for name, c := range map[string]struct {
		from     [][]int
		aside    int // batches that the last was not made from
		circular bool
	}{
		"a chain":            {net(2000, func(i int) []int { return below(i, 1) }), 0, false},
		"a short chain":      {net(20, func(i int) []int { return below(i, 1) }), 0, false},
		"a diamond":          {net(80, func(i int) []int { return below(i, 2) }), 1, false},
		"100 inputs a level": {net(400, func(i int) []int { return below(i, 100) }), 99, false},
		"a circle":           {net(300, func(i int) []int { return []int{(i + 1) % 300} }), 0, true},
		"of itself":          {net(1, func(int) []int { return []int{0} }), 0, true},
		"circles of two":     {net(600, func(i int) []int { return []int{i ^ 1, max(i-2, 0)} }), 0, true},
	} {
		from := c.from
		k := NewBook(base, booked(from))
		inputs := 0
		for _, list := range from {
			inputs += len(list) + 2
		}
		w := newWalk(k)
		w.batch(k.at(batchID(len(from)-1), "a treatment"), stance{whole: true})
		if w.looked > 2*inputs {
			t.Errorf("%s: looked %d times at %d inputs", name, w.looked, inputs)
		}
		kinds := len(from) - c.aside + 1 // one material each, and the words
		if got := len(w.found.Parts); got != min(kinds, mostParts) || w.found.More != max(0, kinds-mostParts) {
			t.Errorf("%s: got %d parts and %d more, want %d kinds", name, got, w.found.More, kinds)
		}
		if w.found.Open != (c.circular || kinds > mostParts) {
			t.Errorf("%s: got open %v", name, w.found.Open)
		}
		k.Strength(batchID(len(from)-1), AsMade)
	}
}

// A bottle of a bottle of a bottle has the strength of the batch that all were filled
// from, which is found once for all of them. Bottles filled from each other have none.
func TestTheStrengthOfBottlesIsFoundOnce(t *testing.T) {
	t.Parallel()
	const n = 2000
	k := NewBook(nil, Records{Batches: map[record.Ref]*record.Batch{}})
	for i := range n {
		b := &record.Batch{Code: fmt.Sprint(i), Type: "bottle"}
		if i == 0 {
			b.LabelStrength = record.Give(record.Strength{Strength: solution.Strength{Basis: solution.MassFraction}})
		} else {
			b.Inputs = record.Give([]record.Input{{Used: record.Used{Batch: batchID(i - 1)}}})
		}
		k.Batches[batchID(i)] = b
	}
	for i := range n {
		if s := k.Strength(batchID(i), AsMade); s.Said == nil || s.Origin != FromLabel {
			t.Fatalf("bottle %d: got %+v, want what the label of the first says", i, s)
		}
	}
	if len(k.strong) != n {
		t.Errorf("got %d moments, want each batch once", len(k.strong))
	}
	k.strong = nil
	last := record.Give([]record.Input{{Used: record.Used{Batch: batchID(n - 1)}}})
	k.Batches[batchID(0)] = &record.Batch{Code: "0", Type: "bottle", Inputs: last}
	for i := range n {
		if s := k.Strength(batchID(i), AsMade); s != (Strength{}) {
			t.Fatalf("bottle %d: got %+v in a circle, want none", i, s)
		}
	}
}
