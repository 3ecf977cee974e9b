package httpapi_test

import (
	"fmt"
	"net/http"
	"sync"
	"testing"
)

// collectedMapping is plainMapping for cards that name their collection.
func collectedMapping() object {
	mapping := plainMapping()
	mapping["columns"] = append(mapping["columns"].(array), object{"name": "Collection", "field": "collection"})
	return mapping
}

func oneCard(number string) string {
	return "Card,Number,Date,Collection\n1," + number + ",1998,palaeontology\n"
}

// TestACardAndARequestOfNearlyTheSameNumberAtOnce: a card that registers a number at the
// moment at which another request registers nearly the same is doubted, or the other
// request is asked; of two imports one has the doubt.
func TestACardAndARequestOfNearlyTheSameNumberAtOnce(t *testing.T) {
	t.Parallel()
	s := newService(t)
	// imported sends a card, and tells whether its number is doubted.
	imported := func(id, number string) (doubted bool) {
		got := s.cards(id, oneCard(number)).want(http.StatusOK)
		if got.at("lines", "taken") != 1.0 {
			t.Errorf("%s: got %s, want the card taken", number, lines(got))
		}
		return got.at("lines", "doubtful") == 1.0
	}
	for round := range 8 {
		first := s.beginImport(fmt.Sprint("first ", round), false, collectedMapping())
		second := s.beginImport(fmt.Sprint("second ", round), false, collectedMapping())
		var doubted [3]bool
		var named reply
		var all sync.WaitGroup
		all.Go(func() { doubted[0] = imported(first, fmt.Sprintf("LV.1.%d", round)) })
		all.Go(func() { named = s.try("/v1/treatments", cleaningOf(fmt.Sprintf("LV 1 %d", round))) })
		all.Go(func() { doubted[1] = imported(second, fmt.Sprintf("LV.2.%d", round)) })
		all.Go(func() {
			third := s.beginImport(fmt.Sprint("third ", round), false, collectedMapping())
			doubted[2] = imported(third, fmt.Sprintf("lv 2 %d", round))
		})
		all.Wait()
		if doubted[0] {
			named.want(http.StatusCreated)
		} else {
			named.wantProblem(http.StatusConflict, "number-nearly-known")
		}
		if doubted[1] == doubted[2] {
			t.Errorf("round %d: the cards of two imports are doubted: %v, %v", round, doubted[1], doubted[2])
		}
	}
}

// TestACardAndARequestOfTheSameNumberAtOnce: the same number at one moment is one specimen.
func TestACardAndARequestOfTheSameNumberAtOnce(t *testing.T) {
	t.Parallel()
	s := newService(t)
	for round := range 8 {
		id := s.beginImport(fmt.Sprint("cards ", round), false, collectedMapping())
		number := fmt.Sprintf("LV.3.%d", round)
		var both sync.WaitGroup
		both.Go(func() { s.cards(id, oneCard(number)).want(http.StatusOK) })
		both.Go(func() { s.try("/v1/treatments", cleaningOf(number)).want(http.StatusCreated) })
		both.Wait()
		if got := s.specimensHere(); got != round+1 {
			t.Fatalf("round %d: got %d specimens, want one for each number", round, got)
		}
	}
}
