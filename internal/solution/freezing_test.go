package solution_test

import (
	"strings"
	"testing"

	"meniscus/internal/quantity"
	"meniscus/internal/solution"
)

func byVolume(percent string) *solution.Strength {
	return &solution.Strength{Basis: solution.VolumeFraction, Number: quantity.New(percent, quantity.Percent)}
}

// TestIceDoesNotPour: the freezing points are those of Engineering ToolBox, ethanol
// freeze-protected water solutions: 0 °C for water, −4 at 10 % by volume, −23 at 40 %.
func TestIceDoesNotPour(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		percent, celsius string
		frozen           bool
	}{
		{"0", "-20", true}, {"0", "-0.5", true}, {"0", "0", false}, {"10", "-10", true}, {"10", "-1", false},
		{"40", "-20", false}, {"30", "-20", true}, {"96", "-20", false},
	} {
		_, err := solution.ComputeEthanolWater(solution.EthanolWater{Properties: &solution.SpiritProperties{
			Strength: byVolume(c.percent), Temperature: quantity.New(c.celsius, quantity.Celsius)}})
		if got := err != nil && strings.Contains(err.Error(), "freezes"); got != c.frozen || err != nil && !got {
			t.Errorf("%s %% at %s °C: got %v, want frozen %t", c.percent, c.celsius, err, c.frozen)
		}
	}
}
