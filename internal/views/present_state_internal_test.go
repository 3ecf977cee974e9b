package views

import (
	"testing"

	"meniscus/api"
)

// A specimen without a layer is not said to have none on no areas.
func TestPresentAnswerWithoutLayers(t *testing.T) {
	t.Parallel()
	for want, p := range map[string]api.PresentState{
		"No layer is recorded.": {},
		"No layer is recorded. Nothing is recorded of 1 area, which does not mean untreated.": {
			Areas: []api.AreaState{{Status: "not-recorded"}}},
		"1 layer is recorded on 1 area.": {Areas: []api.AreaState{{Status: "layers", Layers: []api.PresentLayer{{}}}}},
	} {
		if got := presentAnswer(p, 0); got != want {
			t.Errorf("got %q, want %q", got, want)
		}
	}
}
