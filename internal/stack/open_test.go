package stack_test

import (
	"maps"
	"slices"
	"testing"

	"meniscus/internal/stack"
)

// TestTraitsSettleWhatTheyAreAskedFor: whatever is answered of the traits that findings ask
// for, no finding asks for a trait of the body after it.
func TestTraitsSettleWhatTheyAreAskedFor(t *testing.T) {
	t.Parallel()
	asked := 0
	for _, c := range ruleCases {
		for _, of := range []scenario{c.fires, c.near, c.unknown} {
			of.specimen.BodyKind, of.specimen.Traits = "", nil // nothing is stated or implied
			open := traitsAsked(run(t, of).Findings)
			asked += len(open)
			for _, answer := range []stack.Answer{stack.Yes, stack.No} {
				told := of
				told.specimen.Traits = maps.Clone(of.specimen.Traits)
				if told.specimen.Traits == nil {
					told.specimen.Traits = map[stack.Trait]stack.Answer{}
				}
				for _, trait := range open {
					told.specimen.Traits[trait] = answer
				}
				got := slices.DeleteFunc(traitsAsked(run(t, told).Findings), func(trait stack.Trait) bool {
					return !slices.Contains(open, trait)
				})
				if len(got) > 0 {
					t.Errorf("%s: got %v asked again after the answer %v", c.rule, got, answer)
				}
			}
		}
	}
	if asked < 100 {
		t.Errorf("got %d traits asked for, want those of the rules on bodies", asked)
	}
}

func traitsAsked(found []stack.Finding) (all []stack.Trait) {
	for _, f := range found {
		all = append(all, f.Traits...)
	}
	slices.Sort(all)
	return slices.Compact(all)
}

// TestWhatNobodyCanAnswer: for an old card, the missing climate of the day is information, marked
// as unanswerable; for a plan it is a warning that the user can act on.
func TestWhatNobodyCanAnswer(t *testing.T) {
	t.Parallel()
	card := put("card", stack.Coating, "skull", "1962", of(copolymer, "acetone"))
	for recorded, want := range map[bool]stack.Severity{true: stack.Info, false: stack.Warn} {
		got := check(t, newStack(t, bone()), card, stack.CheckConfig{Recorded: recorded})
		climate := findings(got, "film-may-whiten")
		if len(climate) != 1 || climate[0].Unanswerable != recorded || climate[0].Severity != want {
			t.Errorf("recorded %v: got %+v, want it %s", recorded, climate, want)
		}
		for _, f := range got.Findings {
			if f.Unanswerable && (!f.Unknown || !recorded) {
				t.Errorf("recorded %v: got %v unanswerable", recorded, f)
			}
		}
	}
}
