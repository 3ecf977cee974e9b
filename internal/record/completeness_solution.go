package record

import (
	"bytes"
	"maps"
	"slices"

	"meniscus/internal/graph"
)

// isSolution tells whether a batch is a material in a solvent.
func (b *Batch) isSolution() bool {
	return slices.Contains([]string{"solution", "dilution", "blend", "bottle"}, b.Type)
}

// solventsOfUses asks for the solvents and their proportions wherever a solution
// was used, or may have been.
func solventsOfUses(d Dossier, t *Treatment) ([]Gap, bool) {
	return eachSolution(d, t,
		func(batch *Batch) []Gap { return batchSolvents(d, batch) },
		func(i int, u Use) []Gap {
			place := item("/materials", i, "/used/material/solvents")
			gaps := unless(nil, u.Solvents.Answered(), KindTreatment, place, "solvents")
			return append(gaps, unproportioned(u.Solvents.Value, KindTreatment, place)...)
		})
}

// strengthsOfUses asks for the strength with its basis, of which "unknown" is
// one.
func strengthsOfUses(d Dossier, t *Treatment) ([]Gap, bool) {
	return eachSolution(d, t, batchStrength, func(i int, u Use) []Gap {
		answered := u.Strength.Value.Basis != "" || u.Strength.Answer != ""
		place := item("/materials", i, "/used/material/strength/basis")
		return unless(nil, answered, KindTreatment, place, "strength with its basis")
	})
}

// eachSolution goes through the uses that are solutions, or whose action usually
// takes one, and gives the gaps of each, in the record that would say it.
func eachSolution(
	d Dossier, t *Treatment, ofBatch func(*Batch) []Gap, ofMaterial func(int, Use) []Gap,
) (gaps []Gap, applies bool) {
	for i, u := range t.Uses.Value {
		if batch, here := d.Others[u.Batch].(*Batch); here && batch.isSolution() {
			applies = true
			gaps = append(gaps, ofBatch(batch)...)
		}
		if u.Material != "" && (actions[t.Action].solution || u.Strength.Given || u.Solvents.Given) {
			applies = true
			gaps = append(gaps, ofMaterial(i, u)...)
		}
	}
	return gaps, applies
}

// batchSolvents asks for the solvents in a batch's inputs, in the batch itself,
// or in what it was made from.
func batchSolvents(d Dossier, batch *Batch) []Gap {
	if batch.Solvents.Answered() {
		return unproportioned(batch.Solvents.Value, KindBatch, "/solvents")
	}
	if d.Solvents == nil {
		d.Solvents = SolventsIn(d.Others)
	}
	return unless(nil, d.Solvents.in(batch), KindBatch, "/solvents", "solvents and their proportions")
}

// unproportioned are gaps for solvents of a mixture whose proportions are
// missing.
func unproportioned(solvents []SolventShare, of Kind, place string) []Gap {
	var gaps []Gap
	for i, s := range solvents {
		alone := len(solvents) == 1
		gaps = unless(gaps, alone || s.Fraction != nil, of, item(place, i, "/fraction"), "proportions of the solvents")
	}
	return gaps
}

// Solvents are the batches whose solvents are said, by themselves or by an
// ancestor. They are worked out once, for all records that are judged together.
type Solvents struct {
	told   map[Ref]bool
	looked int // how many inputs were looked at
}

// SolventsIn works out which batches of some records, by id, have their solvents
// said. In a circle of batches that were made from each other, one that says them
// is enough for all.
func SolventsIn(records map[Ref]Value) *Solvents {
	batches := map[Ref]*Batch{}
	for id, v := range records {
		if b, is := v.(*Batch); is {
			batches[id] = b
		}
	}
	ids := slices.SortedFunc(maps.Keys(batches), func(a, b Ref) int { return bytes.Compare(a[:], b[:]) })
	out := &Solvents{told: make(map[Ref]bool, len(ids))}
	for _, group := range graph.Components(out.askedOf(ids, batches)) {
		told := slices.ContainsFunc(group, func(i int) bool { return out.in(batches[ids[i]]) })
		for _, i := range group {
			out.told[ids[i]] = told
		}
	}
	return out
}

// askedOf gives, for each batch that says no solvents itself, the inputs that may
// say them.
func (k *Solvents) askedOf(ids []Ref, batches map[Ref]*Batch) [][]int {
	number := make(map[Ref]int, len(ids))
	for i, id := range ids {
		number[id] = i
	}
	next := make([][]int, len(ids))
	for i, id := range ids {
		if batches[id].Solvents.Answered() {
			continue // its own statement counts, and no input's
		}
		for _, in := range batches[id].Inputs.Value {
			k.looked++
			if to, here := number[in.Batch]; here {
				next[i] = append(next[i], to)
			}
		}
	}
	return next
}

// in tells whether a batch or an ancestor says its solvents.
func (k *Solvents) in(batch *Batch) bool {
	if batch.Solvents.Answered() {
		return len(unproportioned(batch.Solvents.Value, KindBatch, "/solvents")) == 0
	}
	return slices.ContainsFunc(batch.Inputs.Value, func(in Input) bool {
		k.looked++
		return in.Part == "solvent" && in.Amount.Answered() || k.told[in.Batch]
	})
}

// batchStrength asks for what the strength follows from: the label's own, or
// amounts of everything that went in.
func batchStrength(batch *Batch) []Gap {
	inputs := batch.Inputs.Value
	measured := len(inputs) > 0 && !slices.ContainsFunc(inputs, func(in Input) bool { return !in.Amount.Answered() })
	answered := batch.LabelStrength.Answered() || measured
	return unless(nil, answered, KindBatch, "/labelStrength", "strength with its basis")
}
