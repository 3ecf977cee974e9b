package stack_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"meniscus/internal/stack"
)

// contradictionOf is the contradiction of a code, or fails.
func contradictionOf(t *testing.T, s *stack.Stack, code string) stack.Contradiction {
	t.Helper()
	list, _ := s.Contradictions()
	i := slices.IndexFunc(list, func(c stack.Contradiction) bool { return c.Code == code })
	if i < 0 {
		t.Fatalf("got %d contradictions, want %s among them", len(list), code)
	}
	return list[i]
}

// TestMoreChangesThanAreWorkedOut: where removals leave more states in parts than are
// worked out, the earliest removals are left out and counted, and what they took is
// reported as present.
func TestMoreChangesThanAreWorkedOut(t *testing.T) {
	t.Parallel()
	const coats = 250
	beyond := stack.MostChanges/coats + 10 // removals, each in a part of its own of all coats
	var names []string
	var history []stack.Treatment
	for i := range coats {
		names = append(names, fmt.Sprintf("c%03d", i))
		history = append(history, put(names[i], stack.Coating, "skull", "1600", of(copolymer, "acetone")))
	}
	for i := range beyond {
		part := stack.Area(fmt.Sprint("skull/part-", i))
		history = append(history, off(fmt.Sprintf("r%04d", i), part, month(i), stack.Reduced, "acetone", names...))
	}
	s := newStack(t, bone(), history...)
	if got := s.ChangesNoted(); got != stack.MostChanges {
		t.Errorf("got %d states worked out, want %d", got, stack.MostChanges)
	}
	if got, want := contradictionOf(t, s, "changes-left-out").Sentence,
		"the 10 earliest are left out"; !strings.Contains(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
	last := s.Layers()[coats-1].Local
	if got := last[len(last)-1].By; got != history[len(history)-1].ID {
		t.Errorf("got %s as the last that took something off, want the latest", got)
	}
	if got := last[0].By; got != "r0010" {
		t.Errorf("got %s as the first that took something off, want the ten earliest left out", got)
	}
}

// TestMoreRelationsThanAreFollowed: where resin and barriers are on too many areas and
// layers for all relations to be followed, the resin is not said to lie over a barrier.
func TestMoreRelationsThanAreFollowed(t *testing.T) {
	t.Parallel()
	const many = 500
	history := made(stack.MaxFollowed/many/100+10, func(_ int, id string) stack.Treatment {
		return put(id, stack.Coating, "elsewhere", "", uses(100)...)
	})
	faces := areas(areaNames(many, "face-")...)
	history = append(history, with(put("barrier", stack.BarrierCoat, "", "", of(copolymer, "acetone")), faces),
		with(put("resin", stack.Joining, "", "", of(epoxy)), faces, relation(stack.Over, "barrier")))
	few := newStack(t, bone(), history[len(history)-2:]...)
	s := newStack(t, bone(), history...)
	if got := contradictionOf(t, s, "relations-not-followed").Sentence; !strings.Contains(got,
		"it is not known whether a barrier lies under") {
		t.Errorf("got %q", got)
	}
	if got, most := s.Looked(), stack.MaxFollowed+200*many; got > most {
		t.Errorf("got %d looked at, want %d at most", got, most)
	}
	for s, want := range map[*stack.Stack]bool{few: true, s: false} {
		plan := s.Plan(stack.PlanRequest{Treatments: []string{"resin"}})
		opens := len(plan.Steps) > 0 && slices.ContainsFunc(plan.Steps[0].Candidates, func(c stack.Candidate) bool {
			return c.OpensBarrier
		})
		if opens != want {
			t.Errorf("got a barrier opened: %v, want %v", opens, want)
		}
	}
}

// TestMoreLayersThanOneRemovalFollows: where a removal names too many layers to
// compare all with all, the check says that what lies over them is not worked out.
func TestMoreLayersThanOneRemovalFollows(t *testing.T) {
	t.Parallel()
	const n = 1100
	history := made(n, func(i int, id string) stack.Treatment {
		return put(id, stack.Coating, "skull", month(i), of(copolymer, "acetone"))
	})
	var names []string
	for i := range n {
		names = append(names, history[i].ID)
	}
	s := newStack(t, bone(), history...)
	for of, want := range map[int]int{n / 2: 0, n: 1} {
		got := slices.DeleteFunc(findings(check(t, s, off("proposed", "skull", "2026-03-02", stack.Reduced, "acetone",
			names[:of]...), stack.CheckConfig{}), "removal-below-another-layer"),
			func(f stack.Finding) bool { return !strings.Contains(f.Sentence, "more layers than are followed") })
		if len(got) != want {
			t.Errorf("%d layers of %d: got %v, want it said %d times", of, n, got, want)
		}
	}
}

// TestMoreOutOfReachThanAreListed: what no solvent reaches is listed up to a bound, and
// the rest is counted.
func TestMoreOutOfReachThanAreListed(t *testing.T) {
	t.Parallel()
	plan := newStack(t, bone(), more["lids"](620)...).Plan(stack.PlanRequest{})
	if len(plan.Unreachable) != 500 || plan.MoreUnreachable != 120 {
		t.Errorf("got %d out of reach and %d more, want 500 and 120", len(plan.Unreachable), plan.MoreUnreachable)
	}
}

// TestATimelineOfManyAreas: layers on many areas have a bounded number of bars; those
// that are not drawn are counted.
func TestATimelineOfManyAreas(t *testing.T) {
	t.Parallel()
	for n, left := range map[int]string{
		500: "", 2500: "Layers that are drawn are on 1500 more areas that are not shown.",
	} {
		s := newStack(t, bone(), with(put("wide", stack.Coating, "", "1990", of(copolymer, "acetone")),
			areas(areaNames(n, "a")...)))
		svg := string(s.Timeline("wide"))
		if left != "" && !strings.Contains(svg, left) || left == "" && strings.Contains(svg, "Layers that are drawn") {
			t.Errorf("%d areas: want the picture to say %q", n, left)
		}
		if got := strings.Count(svg, "<g><title>"); got != min(n, 1000) {
			t.Errorf("%d areas: got %d bars, want %d", n, got, min(n, 1000))
		}
		if most := 2_000_000; len(svg) > most {
			t.Errorf("%d areas: got %d bytes, want %d at most", n, len(svg), most)
		}
	}
}

// TestMoreLayersThanAreListed: layers of many materials on many areas are listed up
// to a bound and counted; the answer for one area lists all of them.
func TestMoreLayersThanAreListed(t *testing.T) {
	t.Parallel()
	s := newStack(t, bone(), with(put("thick", stack.Coating, "", "1990", uses(100)...), areas(areaNames(250, "a")...)))
	all := s.Present()
	listed := 0
	for _, a := range all.Areas {
		listed += len(a.Layers)
		if a.Area != stack.Whole && a.Status != stack.HasLayers {
			t.Errorf("%s: got %s, want layers also where none are listed", a.Area, a.Status)
		}
	}
	if listed != 20_000 || all.MoreLayers != 5_000 {
		t.Errorf("got %d layers listed and %d more, want 20000 and 5000", listed, all.MoreLayers)
	}
	one := s.PresentIn("a249")
	if len(one.Areas) != 2 || len(one.Areas[1].Layers) != 100 || one.MoreLayers != 0 {
		t.Errorf("got %d areas and %d more layers of one, want it and the whole with all", len(one.Areas), one.MoreLayers)
	}
}

// TestMoreExposuresThanAreAddedUp: of very many liquids on very many areas a bounded
// number is added up; the others are counted, and the hours are not taken as complete.
func TestMoreExposuresThanAreAddedUp(t *testing.T) {
	t.Parallel()
	wash := func(liquids int) stack.Treatment {
		wash := with(put("wash", stack.Cleaning, "", "1990"), areas(areaNames(500, "a")...))
		for i := range liquids {
			hours(fmt.Sprint("liquid-", i), 1)(&wash)
		}
		return wash
	}
	if got := newStack(t, bone(), wash(40)).Suitability("ct"); len(got.Exposures) != 20_000 || got.MoreExposures != 0 {
		t.Errorf("got %d exposures and %d more of 40 liquids, want 20000", len(got.Exposures), got.MoreExposures)
	}
	if got := newStack(t, bone(), wash(42)).Suitability("ct"); len(got.Exposures) != 20_000 || got.MoreExposures != 1_000 {
		t.Errorf("got %d exposures and %d more of 42 liquids, want 20000 and 1000", len(got.Exposures), got.MoreExposures)
	}
}
