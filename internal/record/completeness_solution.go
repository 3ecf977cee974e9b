package record

import "slices"

// DeepestInputs is how far inputs are followed for the solvent; a circle in the
// record ends there.
const DeepestInputs = 50

// isSolution tells whether a batch is something in a solvent.
func isSolution(batch Statement) bool {
	return slices.Contains([]string{"solution", "dilution", "blend", "bottle"}, batch.text("/kind"))
}

// solventsOfUses asks for the solvents and their proportions wherever a solution
// was used, or may have been.
func solventsOfUses(d Dossier) ([]Gap, bool) {
	return eachSolution(d,
		func(batch Statement) []Gap { return batchSolvents(d, batch, 0) },
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
func batchSolvents(d Dossier, batch Statement, depth int) []Gap {
	if solvents, _ := batch.list("/solvents"); batch.Answered("/solvents") {
		var gaps []Gap
		for i, s := range solvents {
			if len(solvents) > 1 && !s.Answered("/fraction") {
				gaps = append(gaps, Gap{Of: KindBatch, Pointer: item("/solvents", i, "/fraction"), Field: "proportions of the solvents"})
			}
		}
		return gaps
	}
	inputs, _ := batch.list("/inputs")
	for _, in := range inputs {
		if in.text("/part") == "solvent" && in.Answered("/amount") {
			return nil
		}
		if from := d.other(in, "/from/batch/id"); from != nil && depth < DeepestInputs && len(batchSolvents(d, from, depth+1)) == 0 {
			return nil
		}
	}
	return []Gap{{Of: KindBatch, Pointer: "/solvents", Field: "solvents and their proportions"}}
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
