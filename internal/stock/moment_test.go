package stock_test

import (
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"

	"meniscus/internal/quantity"
	"meniscus/internal/solution"
	"meniscus/internal/stock"
)

// The jar of TestABottleHasTheStrengthOfItsDay, asked at the uses between: 20,
// after 30 of 150 mL evaporated 25, and after 100 mL of solvent came to the 100
// that were left, 12.5 g/dL.
func TestAMomentHasTheStrengthOfItsDay(t *testing.T) {
	t.Parallel()
	solvent := pure(acetone, nil)
	topUp := event("more", stock.ToppedUp, "2024-07-01", "100")
	topUp.With = &solvent
	shelf := stock.NewShelf(map[string]stock.Made{"jar": jar(event("gone", stock.Evaporated, "2024-06-01", "30"), topUp,
		event("may", stock.Used, "2024-05-01", "0"), event("june", stock.Used, "2024-06-02", "20"),
		event("august", stock.Used, "2024-08", "50"))})
	for record, want := range map[string]float64{"may": 20, "june": 25, "august": 12.5} {
		got := shelf.At("jar", record)
		if got.Strength == nil || math.Abs(got.Strength.Value-want) > 1e-9*want ||
			got.Basis != solution.MassPerSolutionVolume {
			t.Errorf("%s: got %+v on %s, want %v g/dL", record, got.Strength, got.Basis, want)
		}
		if asMade := record == "may"; got.Changed == asMade || (got.Mixture != nil) != asMade {
			t.Errorf("%s: got changed %v, with the mixture as made %v", record, got.Changed, got.Mixture != nil)
		}
	}
	if diff := cmp.Diff([]stock.Addition{{ID: "more", Certain: true}}, shelf.At("jar", "august").Added); diff != "" {
		t.Errorf("in August (-want +got):\n%s", diff)
	}
	if got := shelf.At("jar", "june").Added; len(got) != 0 {
		t.Errorf("in June: got %v, want nothing added yet", got)
	}
}

// Where the dates do not tell whether 30 of 150 mL had evaporated, the strength
// is 20 or 25 g/dL: 22.5, and half of the range over the root of three beside it.
func TestAMomentThatMayBeBeforeOrAfter(t *testing.T) {
	t.Parallel()
	for name, date := range map[string]string{"the same day": "2024-06-01", "some time that year": "2024", "no date": ""} {
		shelf := stock.NewShelf(map[string]stock.Made{
			"jar": jar(event("gone", stock.Evaporated, "2024-06-01", "30"), event("use", stock.Used, date, "5")),
		})
		got := shelf.At("jar", "use")
		if got.Strength == nil || math.Abs(got.Strength.Value-22.5) > 0.2 ||
			math.Abs(got.Strength.Standard-2.5/math.Sqrt(3)) > 0.2 {
			t.Errorf("%s: got %+v, want 22.5 g/dL and %v beside it", name, got.Strength, 2.5/math.Sqrt(3))
		}
	}
}

// The strength is unknown after an evaporation without an amount, and at a record
// that is not among the batch's events. Before the evaporation the batch is as made.
func TestAMomentOfNobodyKnowsWhat(t *testing.T) {
	t.Parallel()
	gone := event("gone", stock.Evaporated, "2024-06-01", "30")
	gone.Amount = nil
	shelf := stock.NewShelf(map[string]stock.Made{
		"jar": jar(gone, event("before", stock.Used, "2024-05", "5"), event("after", stock.Used, "2024-07", "5")),
	})
	for _, record := range []string{"after", "another"} {
		if got := shelf.At("jar", record); got.Strength != nil || !got.Changed {
			t.Errorf("%s: got %+v, want it unknown", record, got)
		}
	}
	if got := shelf.At("jar", "before"); got.Strength == nil || !near(got.Strength.Value, 20) || got.Changed {
		t.Errorf("before: got %+v, want 20 g/dL as made", got)
	}
}

// A bottle with an unmeasured amount still holds what it was filled with. A
// strength from a label is marked as such, through the bottle too.
func TestABottleOfAnyAmount(t *testing.T) {
	t.Parallel()
	label := solution.Strength{Basis: solution.MassPerSolutionVolume, Number: quantity.New("7", quantity.GramsPerDL)}
	batches := map[string]stock.Made{
		"jar": jar(), "bottle": {Code: "bottle", Inputs: []stock.Ingredient{{Name: "jar", Batch: "jar"}}},
		"old":          {Code: "old", Label: &label, Inputs: []stock.Ingredient{pure(resin, nil), pure(acetone, nil)}},
		"of old":       filled("old", "10"),
		"and no label": filled("jar", "10"),
		"weighed": {Code: "weighed", Label: &label, Finished: amount("100", quantity.Millilitre),
			Inputs: []stock.Ingredient{
				pure(resin, amount("10", quantity.Gram)), pure(acetone, amount("90", quantity.Millilitre)),
			}},
	}
	shelf := stock.NewShelf(batches)
	for batch, want := range map[string]struct {
		strength float64
		label    bool
	}{"bottle": {20, false}, "of old": {7, true}, "weighed": {10, false}, "and no label": {20, false}} {
		got := shelf.At(batch, "use")
		if got.Strength == nil || math.Abs(got.Strength.Value-want.strength) > 1e-3 || got.ByLabel != want.label {
			t.Errorf("%s: got %+v by label %v, want %v g/dL by label %v",
				batch, got.Strength, got.ByLabel, want.strength, want.label)
		}
	}
}
