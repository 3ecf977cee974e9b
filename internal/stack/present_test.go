package stack_test

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"meniscus/internal/stack"
)

func stateOf(t *testing.T, s *stack.Stack, area stack.Area) stack.AreaState {
	t.Helper()
	for _, a := range s.Present().Areas {
		if a.Area == area {
			return a
		}
	}
	t.Fatalf("got no area %s, want it listed", area)
	return stack.AreaState{}
}

// TestThreeAnswers keeps layers, none found and not recorded apart.
func TestThreeAnswers(t *testing.T) {
	t.Parallel()
	s := newStack(t, bone(func(sp *stack.Specimen) { sp.Areas = []stack.SpecimenArea{{Path: "jaw"}} }),
		put("c", stack.Coating, "skull", "2001", of(copolymer, "acetone")), examined("e", "ribs", "2020"))
	for area, want := range map[stack.Area]stack.AreaStatus{
		"skull": stack.HasLayers, "ribs": stack.NoneFound, "jaw": stack.NotRecorded, stack.Whole: stack.NotRecorded,
	} {
		if got := stateOf(t, s, area).Status; got != want {
			t.Errorf("%s: got %s, want %s", area, got, want)
		}
	}
	if got := stateOf(t, s, "ribs").Examined; got == nil || got.Treatment != "e" || got.How == "" {
		t.Errorf("got %+v, want who looked, when and how", got)
	}
	if got := stateOf(t, s, stack.Whole).InParts; !cmp.Equal(got, []stack.Area{"skull"}) {
		t.Errorf("whole: got parts %v, want skull", got)
	}
}

// TestLaterLayerOutweighsBareFinding: an examination holds for its own day.
func TestLaterLayerOutweighsBareFinding(t *testing.T) {
	t.Parallel()
	s := newStack(t, bone(), examined("e", "skull", "2000"), put("c", stack.Coating, "skull", "2001",
		of(copolymer, "acetone")))
	if got := stateOf(t, s, "skull").Status; got != stack.HasLayers {
		t.Errorf("got %s, want layers", got)
	}
	s = newStack(t, bone(), put("c", stack.Coating, "skull", "2001", of(copolymer, "acetone")),
		examined("e", "skull", "2010"))
	got := stateOf(t, s, "skull")
	if got.Status != stack.HasLayers || got.Layers[0].State != stack.NotDetected ||
		got.Layers[0].Event.Method != "ultraviolet light" {
		t.Errorf("got %+v, want the layer kept as not detected, with the method", got)
	}
}

// TestRemovalReducesWhereItWas: a removal in one place leaves the rest, and
// never makes a layer absent.
func TestRemovalReducesWhereItWas(t *testing.T) {
	t.Parallel()
	coat := put("c", stack.Coating, "skull", "2001", of(copolymer, "acetone"))
	s := newStack(t, bone(), coat, off("r", "skull/nasal", "2010", stack.Reduced, "acetone", "c"))
	if got := stateOf(t, s, "skull").Layers[0].State; got != stack.Present {
		t.Errorf("skull: got %s, want present", got)
	}
	nasal := stateOf(t, s, "skull/nasal")
	if len(nasal.Layers) != 1 || nasal.Layers[0].State != stack.Reduced || nasal.Layers[0].Event.By != "r" {
		t.Errorf("nasal: got %+v, want reduced by r", nasal.Layers)
	}
	whole := newStack(t, bone(), coat, off("r", "skull", "2010", stack.NotDetected, "acetone", "c"))
	if got := stateOf(t, whole, "skull"); got.Status != stack.HasLayers || got.Layers[0].Layer.State != stack.NotDetected {
		t.Errorf("got %+v, want the area to keep its layer as not detected", got)
	}
}

// TestRemovalOfNobodyKnowsWhat: a removal that names no layer leaves every
// earlier layer there unknown.
func TestRemovalOfNobodyKnowsWhat(t *testing.T) {
	t.Parallel()
	s := newStack(t, bone(), put("c", stack.Coating, "skull", "2001", of(copolymer, "acetone")),
		off("r", "skull", "2010", "", "acetone"))
	if got := stateOf(t, s, "skull").Layers[0].State; got != stack.StateUnknown {
		t.Errorf("got %s, want unknown", got)
	}
}

// TestAtADay leaves out what is certainly later.
func TestAtADay(t *testing.T) {
	t.Parallel()
	c := stack.Config{Specimen: bone(), Treatments: []stack.Treatment{
		put("early", stack.Coating, "skull", "1990", of(copolymer, "acetone")),
		put("late", stack.Coating, "skull", "2010", of(copolymer, "acetone")),
		put("maybe", stack.Coating, "skull", "1995/2012", of(copolymer, "acetone")),
	}, At: when("2000-06-01").To}
	s, err := stack.New(c)
	if err != nil {
		t.Fatal(err)
	}
	var ids []string
	for _, l := range stateOf(t, s, "skull").Layers {
		ids = append(ids, l.Layer.Treatment)
	}
	if diff := cmp.Diff(ids, []string{"early", "maybe"}); diff != "" {
		t.Errorf("got (-) want (+)\n%s", diff)
	}
}

// TestSublimation: an open layer should have gone; one that was coated has not.
func TestSublimation(t *testing.T) {
	t.Parallel()
	melt := put("m", stack.Coating, "skull", "2020", of("cyclododecane"))
	if got := stateOf(t, newStack(t, bone(), melt), "skull").Layers[0].State; got != stack.ShouldHaveSublimed {
		t.Errorf("open: got %s, want should-have-sublimed", got)
	}
	s := newStack(t, bone(), melt, put("c", stack.Coating, "skull", "2021", of(copolymer, "acetone")))
	if got := stateOf(t, s, "skull").Layers[0].State; got != stack.Present {
		t.Errorf("sealed: got %s, want present", got)
	}
}

// TestSeparateBones: treating one rib never counts as treating two hundred, in
// a bath or out of it, unless a joint ties them or the record names the whole.
func TestSeparateBones(t *testing.T) {
	t.Parallel()
	skeleton := bone(pieces("rib-1", "rib-2", "rib-3"))
	bath := with(put("b", stack.Consolidation, "rib-1", "2001", of(copolymer, "acetone")), method(stack.Immersion))
	joint := put("j", stack.Joining, "rib-1", "1999", of(acetate, "acetone"))
	joint.Areas = []stack.Area{"rib-1", "rib-2"}
	for _, c := range []struct {
		name    string
		earlier []stack.Treatment
		rib     stack.Area
		want    stack.AreaStatus
	}{
		{"apart", []stack.Treatment{bath}, "rib-2", stack.NotRecorded},
		{"joined", []stack.Treatment{joint, bath}, "rib-2", stack.HasLayers},
		{"joined to another", []stack.Treatment{joint, bath}, "rib-3", stack.NotRecorded},
		{"whole said", []stack.Treatment{put("w", stack.Coating, stack.Whole, "2001", of(copolymer, "acetone"))}, "rib-3", stack.HasLayers},
	} {
		if got := stateOf(t, newStack(t, skeleton, c.earlier...), c.rib).Status; got != c.want {
			t.Errorf("%s: got %s, want %s", c.name, got, c.want)
		}
	}
	later := with(joint, func(t *stack.Treatment) { t.When = when("2010") })
	s := newStack(t, skeleton, bath, later)
	for _, l := range stateOf(t, s, "rib-2").Layers {
		if l.Layer.Treatment == "b" {
			t.Errorf("joined after the bath: got the bath's layer on rib-2, want none")
		}
	}
}

// TestUnplaced: a layer whose place is unknown may be anywhere.
func TestUnplaced(t *testing.T) {
	t.Parallel()
	lost := stack.Treatment{
		ID: "lost", Action: stack.Coating, AreasUnknown: true, Uses: []stack.Use{of("shellac", "ethanol")},
	}
	s := newStack(t, bone(), lost)
	if got := s.Present().Unplaced; len(got) != 1 {
		t.Errorf("got %d unplaced layers, want 1", len(got))
	}
	taken := newStack(t, bone(), lost, off("r", "skull", "2010", stack.Reduced, "ethanol", "lost"))
	if got := taken.Present().Unplaced; len(got) != 1 || got[0].State != stack.Reduced || got[0].Event == nil ||
		got[0].Event.By != "r" {
		t.Errorf("partly taken off: got %+v, want it reduced by the removal", got)
	}
	for _, a := range taken.Present().Areas {
		if a.Status != stack.NotRecorded || len(a.Layers) > 0 {
			t.Errorf("%s: got %s and %d layers, want none: nobody knows where it is", a.Area, a.Status, len(a.Layers))
		}
	}
	got := findings(check(t, s, resin("ethanol"), stack.CheckConfig{}), "known-solvent-of-earlier-layer")
	if len(got) != 1 || !got[0].Possible || got[0].Severity != stack.Info {
		t.Errorf("got %v, want the layer as possibly reached", got)
	}
}

func TestAreas(t *testing.T) {
	t.Parallel()
	for in, want := range map[stack.Area]stack.Area{
		"": "whole", "whole": "whole", "whole/skull": "skull", "/skull//nasal/": "skull/nasal",
		"Schädel/Nase": "Schädel/Nase",
	} {
		if got := in.Clean(); got != want {
			t.Errorf("%q: got %q, want %q", in, got, want)
		}
	}
	for _, c := range []struct {
		a, b stack.Area
		want bool
	}{{"skull", "skull/nasal", true}, {"skull/nasal", "skull", true}, {"skull", "skulls", false}, {"whole", "jaw", true},
		{"skull/nasal", "skull/orbit", false}} {
		if got := c.a.Overlaps(c.b); got != c.want {
			t.Errorf("%s and %s: got %v, want %v", c.a, c.b, got, c.want)
		}
	}
}

// TestIdentifiers: missing and repeated identifiers are refused.
func TestIdentifiers(t *testing.T) {
	t.Parallel()
	_, err := stack.New(stack.Config{Treatments: []stack.Treatment{{ID: "a"}, {ID: "a"}, {}}})
	if err == nil || !strings.Contains(err.Error(), "/treatments/1/id") ||
		!strings.Contains(err.Error(), "/treatments/2/id") {
		t.Errorf("got %v, want both faults with their places", err)
	}
}
