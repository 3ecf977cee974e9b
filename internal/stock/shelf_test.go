package stock_test

import (
	"math"
	"strings"
	"testing"

	"meniscus/internal/edtf"
	"meniscus/internal/quantity"
	"meniscus/internal/solution"
	"meniscus/internal/stock"
)

func event(id string, kind stock.Kind, date, ml string) stock.Event {
	e := stock.Event{ID: id, Kind: kind, Amount: amount(ml, quantity.Millilitre)}
	if date != "" {
		e.Date = edtf.MustParse(date)
	}
	return e
}

func filled(from, ml string) stock.Made {
	return stock.Made{
		Code: "bottle", Inputs: []stock.Ingredient{{Name: from, Batch: from, Amount: amount(ml, quantity.Millilitre)}},
	}
}

// jar is 150 mL at 20 g/dL, 30 g of resin filled to the mark.
func jar(events ...stock.Event) stock.Made {
	return stock.Made{Code: "jar", Finished: amount("150", quantity.Millilitre), Events: events,
		Inputs: []stock.Ingredient{pure(resin, amount("30", quantity.Gram)), pure(acetone, nil)}}
}

// A bottle has the strength that the jar had when it was filled, by conservation
// of mass: 30 g in 150 mL is 20 g/dL; 30 mL evaporate on 1 June and leave it in
// 120 mL at 25; 100 mL of solvent are added on 1 July, when 100 mL with 25 g are
// left, and make 12.5.
func TestABottleHasTheStrengthOfItsDay(t *testing.T) {
	t.Parallel()
	topUp := event("more", stock.ToppedUp, "2024-07-01", "100")
	solvent := pure(acetone, nil)
	topUp.With = &solvent
	batches := map[string]stock.Made{
		"jar": jar(event("gone", stock.Evaporated, "2024-06-01", "30"), topUp,
			event("may", stock.Decanted, "2024-05-01", "0"), event("june", stock.Decanted, "2024-06-02", "20"),
			event("august", stock.Decanted, "2024-08", "50"), event("weak", stock.Decanted, "2024-08-20", "50")),
		"may": filled("jar", "10"), "june": filled("jar", "20"), "august": filled("jar", "50"),
		"weak":        {Code: "weak", Inputs: []stock.Ingredient{{Name: "jar", Batch: "jar", Amount: amount("50", quantity.Millilitre)}, pure(acetone, amount("50", quantity.Millilitre))}},
		"of a bottle": filled("june", "5"),
	}
	shelf := stock.NewShelf(batches)
	for id, want := range map[string]float64{
		"jar": 20, "may": 20, "june": 25, "august": 12.5, "weak": 6.25, "of a bottle": 25,
	} {
		if got := strengthOf(t, shelf.Contents(id), solution.MassPerSolutionVolume); math.Abs(got-want) > 1e-3*want {
			t.Errorf("%s: got %v g/dL, want %v", id, got, want)
		}
	}
	if now := shelf.Account("jar"); now.Strength == nil || !near(now.Strength.Value, 0.125) ||
		!near(now.Remaining.Value, 100) {
		t.Errorf("got %+v left, want 100 mL at 12.5 g/dL", now.Balance)
	}
}

// The uncertainty of the evaporated amount carries over to the bottle's strength:
// c' = cV/(V−q), so u(c') = c'·u(q)/(V−q) = 25·2/120 g/dL.
func TestABottleCarriesTheUncertaintyOfItsDay(t *testing.T) {
	t.Parallel()
	gone := event("gone", stock.Evaporated, "2024-06-01", "30")
	two, _ := quantity.OfFloat(2)
	gone.Amount.Uncertainty = quantity.Standard(two)
	held := stock.Compose("june", map[string]stock.Made{
		"jar": jar(gone, event("june", stock.Decanted, "2024-06-02", "20")), "june": filled("jar", "20"),
	})
	if got := held.Mixture.On(solution.MassPerSolutionVolume).Standard; math.Abs(got-25*2.0/120) > 1e-3 {
		t.Errorf("got u = %v g/dL, want %v", got, 25*2.0/120)
	}
}

// A bottle that was poured back into its jar makes no circle, since it was filled before.
// Two jars that were filled from each other make a circle, and a finding says so.
func TestPouredBackIsNoCircle(t *testing.T) {
	t.Parallel()
	back := event("back", stock.ToppedUp, "2024-07-01", "10")
	back.With = &stock.Ingredient{Name: "bottle", Batch: "bottle"}
	bottle := filled("jar", "20")
	bottle.Events = []stock.Event{
		event("gone", stock.Evaporated, "2024-06-10", "10"), event("back", stock.Decanted, "2024-07-01", "10"),
	}
	bottle.Finished = amount("20", quantity.Millilitre)
	shelf := stock.NewShelf(map[string]stock.Made{
		"bottle": bottle, "jar": jar(event("bottle", stock.Decanted, "2024-06-01", "20"), back),
	})
	// 4 g left for the bottle and came back in 10 mL: 30 g in 140 mL.
	if now := shelf.Account("jar"); now.Strength == nil || math.Abs(now.Strength.Value-30.0/140) > 1e-3 ||
		!near(now.Remaining.Value, 140) {
		t.Errorf("got %+v, want 140 mL at %v g/mL", now.Balance, 30.0/140)
	}
	each := func(from string) stock.Made {
		made := filled(from, "10")
		made.Events = []stock.Event{event("gone", stock.Evaporated, "2024", "1"), event("a", stock.Decanted, "2025", "1"),
			event("b", stock.Decanted, "2025", "1")}
		return made
	}
	round := stock.NewShelf(map[string]stock.Made{"a": each("b"), "b": each("a")})
	if held := round.Contents("a"); held.Mixture != nil || !strings.Contains(strings.Join(held.Why, " "), "from itself") {
		t.Errorf("got %v, want the circle named", held.Why)
	}
	round.Account("a")
}

// Where the contents of the jar are unknown, those of the bottle are said to be unknown.
func TestABottleOfNobodyKnowsWhat(t *testing.T) {
	t.Parallel()
	water := solution.Component{
		ID: "water", Name: "water", Phase: solution.Liquid, Density: solution.Density{Measured: quantity.Exactly(0.9982)},
	}
	for name, c := range map[string]struct {
		with *stock.Ingredient
		want string
	}{
		"another liquid": {ptr(pure(water, nil)), "other things than it was made of"},
		"words":          {&stock.Ingredient{Name: "thinner"}, "how strong jar was"},
		"nothing said":   {nil, "how strong jar was"},
	} {
		topUp := event("more", stock.ToppedUp, "2024-07-01", "10")
		topUp.With = c.with
		held := stock.Compose("b", map[string]stock.Made{
			"jar": jar(topUp, event("b", stock.Decanted, "2024-08", "20")), "b": filled("jar", "20"),
		})
		if held.Mixture != nil || !strings.Contains(strings.Join(held.Why, " "), c.want) {
			t.Errorf("%s: got %v, want %q", name, held.Why, c.want)
		}
	}
}

func ptr[T any](v T) *T { return &v }
