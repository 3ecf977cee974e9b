package record

import (
	"maps"
	"slices"

	"meniscus/internal/graph"
)

// isSolution tells whether a batch is something in a solvent.
func isSolution(batch Statement) bool {
	return slices.Contains([]string{"solution", "dilution", "blend", "bottle"}, batch.text("/kind"))
}

// solventsOfUses asks for the solvents and their proportions wherever a solution
// was used, or may have been.
func solventsOfUses(d Dossier) ([]Gap, bool) {
	return eachSolution(d,
		func(batch Statement) []Gap { return batchSolvents(d, batch) },
		func(material Statement) []Gap {
			gaps := want(material, d.Kind, "/solvents", "solvents")
			solvents, _ := material.list("/solvents")
			for i, s := range solvents {
				if len(solvents) > 1 && !s.Answered("/fraction") {
					gaps = append(gaps, Gap{Of: d.Kind, Pointer: item("/solvents", i, "/fraction"), Field: "proportions of the solvents"})
				}
			}
			return gaps
		})
}

// strengthsOfUses asks for the strength with its basis, of which "unknown" is
// one.
func strengthsOfUses(d Dossier) ([]Gap, bool) {
	return eachSolution(d, batchStrength, func(material Statement) []Gap {
		if material.At("/strength") == nil && material.Answered("/strength") {
			return nil
		}
		return want(material, d.Kind, "/strength/basis", "strength with its basis")
	})
}

// eachSolution goes through the uses that are solutions, or whose action usually
// takes one, and gives the gaps of each, in the record that would say it.
func eachSolution(d Dossier, ofBatch, ofMaterial func(Statement) []Gap) (gaps []Gap, applies bool) {
	uses, _ := d.Statement.list("/materials")
	for i, u := range uses {
		if batch := d.other(u, "/used/batch/id"); isSolution(batch) {
			applies = true
			gaps = append(gaps, ofBatch(batch)...)
		}
		material, isMaterial := u.At("/used/material").(map[string]any)
		if !isMaterial || !(actions[d.action()].solution || material["strength"] != nil || material["solvents"] != nil) {
			continue
		}
		applies = true
		for _, gap := range ofMaterial(material) {
			gap.Pointer = item("/materials", i, "/used/material"+gap.Pointer)
			gaps = append(gaps, gap)
		}
	}
	return gaps, applies
}

// batchSolvents asks for the solvents in a batch's inputs, in the batch itself,
// or in what it was made from.
func batchSolvents(d Dossier, batch Statement) []Gap {
	if batch.Answered("/solvents") {
		return unproportioned(batch)
	}
	if d.Solvents == nil {
		d.Solvents = SolventsIn(d.Others)
	}
	if d.Solvents.in(batch) {
		return nil
	}
	return []Gap{{Of: KindBatch, Pointer: "/solvents", Field: "solvents and their proportions"}}
}

// unproportioned are the solvents that a batch names without their proportions.
func unproportioned(batch Statement) []Gap {
	var gaps []Gap
	solvents, _ := batch.list("/solvents")
	for i, s := range solvents {
		if len(solvents) > 1 && !s.Answered("/fraction") {
			gaps = append(gaps, Gap{Of: KindBatch, Pointer: item("/solvents", i, "/fraction"), Field: "proportions of the solvents"})
		}
	}
	return gaps
}

// Solvents are the batches whose solvents are told: by themselves, or by something
// that they were made from. They are worked out once, for all records that are
// judged together.
type Solvents struct {
	told   map[string]bool
	looked int // how many inputs were looked at
}

// SolventsIn works out whose solvents are told among statements, by id. Batches
// that were made from each other in a circle tell what any of them does.
func SolventsIn(statements map[string]Statement) *Solvents {
	out := &Solvents{told: make(map[string]bool, len(statements))}
	ids := slices.Sorted(maps.Keys(statements))
	number := make(map[string]int, len(ids))
	for i, id := range ids {
		number[id] = i
	}
	next := make([][]int, len(ids))
	for i, id := range ids {
		if statements[id].Answered("/solvents") {
			continue // its own word counts, and nobody's else
		}
		inputs, _ := statements[id].list("/inputs")
		for _, in := range inputs {
			out.looked++
			if to, here := number[in.text("/from/batch/id")]; here {
				next[i] = append(next[i], to)
			}
		}
	}
	for _, group := range graph.Components(next) {
		told := slices.ContainsFunc(group, func(i int) bool { return out.in(statements[ids[i]]) })
		for _, i := range group {
			out.told[ids[i]] = told
		}
	}
	return out
}

// in tells whether a batch says its solvents, or something that went in does.
func (k *Solvents) in(batch Statement) bool {
	if batch.Answered("/solvents") {
		return len(unproportioned(batch)) == 0
	}
	inputs, _ := batch.list("/inputs")
	return slices.ContainsFunc(inputs, func(in Statement) bool {
		k.looked++
		return in.text("/part") == "solvent" && in.Answered("/amount") || k.told[in.text("/from/batch/id")]
	})
}

// batchStrength asks for what the strength follows from: the label's own, or
// amounts of everything that went in.
func batchStrength(batch Statement) []Gap {
	if batch.Answered("/labelStrength") {
		return nil
	}
	inputs, _ := batch.list("/inputs")
	unmeasured := func(in Statement) bool { return !in.Answered("/amount") }
	if len(inputs) > 0 && !slices.ContainsFunc(inputs, unmeasured) {
		return nil
	}
	return []Gap{{Of: KindBatch, Pointer: "/labelStrength", Field: "strength with its basis"}}
}
