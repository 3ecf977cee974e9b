package views

import (
	"strings"
	"testing"

	"meniscus/api"
)

// Each preparation of a plan is said in words.
func TestPreparationsAreSaid(t *testing.T) {
	t.Parallel()
	code := func(c api.PlanPreparationCode, steps ...int32) api.PlanPreparation {
		return api.PlanPreparation{Code: c, Steps: &steps}
	}
	got := preparedSaid([]api.PlanPreparation{code(api.PlanPreparationCodeSpecimenHazard, 1),
		code(api.PlanPreparationCodeSupport, 1, 2, 3), code(api.PlanPreparationCodeReplacement, 1)})
	const want = "First support the joints and what they hold (steps 1 to 3); name what takes the consolidant's place (step 1)."
	if got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	for c := range preparing {
		if !c.Valid() {
			t.Errorf("%q is no preparation", c)
		}
	}
	for _, c := range []string{"curator-approval", "new-label", "record-number", "replacement", "settle-records", "support"} {
		if said := preparedSaid([]api.PlanPreparation{code(api.PlanPreparationCode(c))}); strings.HasPrefix(said, "First  ") ||
			preparing[api.PlanPreparationCode(c)] == "" {
			t.Errorf("%s is not said: %q", c, said)
		}
	}
}
