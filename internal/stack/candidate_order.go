package stack

import (
	"cmp"
	"slices"
	"strings"

	"meniscus/internal/material"
)

// compareCandidates ranks: fewest kept layers disturbed, then fewest unknown,
// then least harm to people, then evidence before tests, then the better source of
// what decides, then by name.
func compareCandidates(a, b Candidate) int {
	return cmp.Or(
		cmp.Compare(a.Disturbed, b.Disturbed), cmp.Compare(a.Unknown, b.Unknown), cmp.Compare(a.Harm, b.Harm),
		boolOrder(a.Test, b.Test), cmp.Compare(b.Observed.gravity(), a.Observed.gravity()),
		better(a.decides(), b.decides()), cmp.Compare(a.Solvent, b.Solvent))
}

// decides is the entry that the candidate rests on first.
func (c Candidate) decides() Evidence {
	if len(c.Evidence) == 0 {
		return Evidence{}
	}
	return c.Evidence[0]
}

func boolOrder(a, b bool) int {
	switch {
	case a == b:
		return 0
	case a:
		return 1
	}
	return -1
}

// harmClasses are the statements of the harmonised classification (Regulation
// (EC) No 1272/2008) by how much they weigh here; the order is this service's
// own and says which of two liquids to try first, no more.
var harmClasses = [][]string{
	4: {"H340", "H341", "H350", "H351", "H360", "H361", "H370", "H372", "H300", "H310", "H330", "H301", "H311", "H331"},
	3: {"H373", "H304", "H371", "H302", "H312", "H332", "H314", "H318"},
	2: {"H335", "H336", "H315", "H317", "H319"},
	1: {"H224", "H225", "H226"},
}

// hazardsUnknown stands among the hazards of a liquid, and of a mixture with a part, whose
// classification is not known here.
const hazardsUnknown = "hazards not known here; see the safety data sheet"

// harm ranks a liquid by its classification, once; of a mixture the worst part counts.
func (k knowing) harm(solvent string) (rank int, hazards []string) {
	k.seen.mu.Lock()
	defer k.seen.mu.Unlock()
	found, ok := k.seen.harms[solvent]
	if !ok {
		found.rank, found.hazards = k.classify(solvent)
		k.seen.harms[solvent] = found
	}
	return found.rank, found.hazards
}

// ranked is what harm finds.
type ranked struct {
	rank    int
	hazards []string
}

func (k knowing) classify(solvent string) (rank int, hazards []string) {
	unknown := false
	for _, part := range k.parts([]Share{{Solvent: solvent}}) {
		r, codes := k.harmOf(part.Solvent)
		rank, unknown = max(rank, r), unknown || r == unclassified
		hazards = append(hazards, codes...)
	}
	slices.Sort(hazards)
	hazards = slices.Compact(hazards)
	if unknown {
		hazards = append(hazards, hazardsUnknown)
	}
	return rank, slices.Clip(hazards)
}

// unclassified is the rank of a liquid whose hazards are not known here.
const unclassified = 5

func (k knowing) harmOf(solvent string) (int, []string) {
	if solvent == "water" || solvent == "hot-water" {
		return 0, nil
	}
	var codes []string
	rank, classified := 0, false
	for _, h := range k.Hazards(solvent) {
		classified = classified || h.Kind == material.HazardClass && h.Value == "none"
		if h.Kind != material.HazardStatement || !strings.HasPrefix(h.Value, "H") {
			continue
		}
		codes = append(codes, h.Value)
		for weight, list := range harmClasses {
			if slices.ContainsFunc(list, func(c string) bool { return strings.HasPrefix(h.Value, c) }) {
				rank = max(rank, weight)
			}
		}
	}
	if len(codes) == 0 && !classified {
		return unclassified, nil
	}
	return rank, codes
}
