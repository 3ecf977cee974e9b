package views

import (
	"fmt"
	"testing"

	"meniscus/internal/stack"
)

// TestAreasOfLayersAreBounded: the areas of layers are named as far as the contract and
// an answer hold; where they are cut, the answer says so.
func TestAreasOfLayersAreBounded(t *testing.T) {
	t.Parallel()
	var all []stack.Area
	for i := range mostAreasOfLayer + 1 {
		all = append(all, stack.Area(fmt.Sprint("a", i)))
	}
	cut, names := false, mostAreaNames
	w := layerWriter{cut: &cut, names: &names}
	if got := w.areas(all[:1]); got != nil {
		t.Errorf("got %v of a layer on one area, want none named again", *got)
	}
	if got := w.areas(all[:mostAreasOfLayer]); len(*got) != mostAreasOfLayer || cut {
		t.Errorf("got %d, cut %v, want all %d", len(*got), cut, mostAreasOfLayer)
	}
	if got := w.areas(all); len(*got) != mostAreasOfLayer || !cut {
		t.Errorf("got %d, cut %v, want %d and that it is cut", len(*got), cut, mostAreasOfLayer)
	}
	named := 2 * mostAreasOfLayer
	for range 2 * mostAreaNames / mostAreasOfLayer {
		named += len(deref(w.areas(all)))
	}
	if named != mostAreaNames {
		t.Errorf("got %d areas named in all, want %d", named, mostAreaNames)
	}
}

// TestEvidenceOfAllLayersIsBounded: an answer names mostEvidence of all layers; beyond
// that each layer's answer has its first evidence and the number of the others.
func TestEvidenceOfAllLayersIsBounded(t *testing.T) {
	t.Parallel()
	x := stack.Reasoned{Answer: stack.Unknown, Contradicted: true}
	x.Evidence, x.MoreEvidence = []stack.Evidence{{Says: "first"}, {Says: "second"}, {Says: "third"}}, 7
	left, named := mostEvidence, 0
	w := layerWriter{evidence: &left}
	if got := w.undoing(x); len(got.Evidence) != 3 || *got.MoreEvidence != 7 {
		t.Errorf("got %d entries and %d more, want all three and 7", len(got.Evidence), *got.MoreEvidence)
	}
	for range mostEvidence {
		got := w.undoing(x)
		named += len(got.Evidence)
		if len(got.Evidence)+int(*got.MoreEvidence) != 10 || got.Evidence[0].Says != "first" || !got.Contradicted {
			t.Fatalf("got %v, want the first, and all counted", got)
		}
	}
	if most := 2 * mostEvidence; named > most {
		t.Errorf("got %d entries named, want %d at most", named, most)
	}
}
