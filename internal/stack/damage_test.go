package stack_test

import (
	"strings"
	"testing"

	"meniscus/internal/stack"
)

func damaged(id string, area stack.Area, date, kind string, of ...string) stack.Treatment {
	t := put(id, stack.Damage, area, date)
	t.Damage = &stack.DamageDone{Kind: kind, Treatments: of}
	return t
}

func damagedState(s *stack.Stack, id string) stack.LayerState {
	for _, l := range s.Layers() {
		if l.Treatment == id {
			return l.State
		}
	}
	return ""
}

// TestDamageChangesALayer: its state, and how warm it may become. That a joint slumped at a
// temperature bounds it whatever others saw that adhesive stand.
func TestDamageChangesALayer(t *testing.T) {
	t.Parallel()
	joint := put("joint", stack.Joining, "skull/orbit", "1990", of(copolymer, "acetone"))
	sound := newStack(t, bone(), joint, coat("coat", "skull", "1980"))
	if got := sound.Travel(); !got.Known || got.AtMost == nil {
		t.Fatalf("got %+v, want a sound joint to have a temperature", got)
	}
	for name, c := range map[string]struct {
		event stack.Treatment
		want  stack.LayerState
	}{
		"named":                      {damaged("d", "skull/orbit", "2020", "slumped", "joint"), stack.Damaged},
		"a joint that failed there":  {damaged("d", "skull", "2020", "joint-failed"), stack.Damaged},
		"elsewhere":                  {damaged("d", "jaw", "2020", "joint-failed"), stack.Present},
		"before there was a joint":   {damaged("d", "skull", "1985", "slumped"), stack.Present},
		"a crack that names nothing": {damaged("d", "skull", "2020", "cracked"), stack.Present},
	} {
		s := newStack(t, bone(), joint, coat("coat", "skull", "1980"), c.event)
		if got := damagedState(s, "joint"); got != c.want {
			t.Errorf("%s: got %s, want %s", name, got, c.want)
		}
		if got := damagedState(s, "coat"); got != stack.Present {
			t.Errorf("%s: got the coat %s, want it as it was", name, got)
		}
		if got := s.Travel(); got.Known != (c.want == stack.Present) {
			t.Errorf("%s: got %+v, want no temperature for a damaged joint alone", name, got)
		}
	}
	warm := damaged("d", "skull/orbit", "2020", "slumped", "joint")
	warm.Environment.AirC = num(31)
	got := newStack(t, bone(), joint, warm).Travel()
	if got.Known || got.AtMost == nil || *got.AtMost != 31 ||
		!strings.Contains(strings.Join(got.Layers[0].Limit.Cautions, " "), "slumped (2020) at 31 °C") {
		t.Errorf("got %+v, want at most the 31 °C at which it slumped", got)
	}
	if !got.Slumped || !strings.Contains(got.Sentence, "below the 31 °C") || got.AtLeast != nil && *got.AtLeast >= 31 {
		t.Errorf("got %+v, want it to stay below 31 °C", got)
	}
	crack := damaged("d", "skull/orbit", "2020", "cracked", "joint")
	crack.Environment.AirC = num(5)
	if got := newStack(t, bone(), joint, crack).Travel(); got.AtMost != nil {
		t.Errorf("got %+v, want no bound by the cold in which it cracked", got)
	}
	taken := newStack(t, bone(), joint, warm, off("r", "skull/orbit", "2021", stack.Reduced, "acetone", "joint"))
	if got := damagedState(taken, "joint"); got != stack.Reduced {
		t.Errorf("got %s, want what was done last to decide", got)
	}
	open := newStack(t, bone(), joint, put("d", stack.Damage, "skull", "2020")).Travel()
	if !strings.Contains(strings.Join(open.Cautions, " "), "does not say which layer") {
		t.Errorf("got %v, want the damage without a layer to be told", open.Cautions)
	}
}

// TestASpotTestOverrulesTheTables for dissolving and for taking off.
func TestASpotTestOverrulesTheTables(t *testing.T) {
	t.Parallel()
	old := put("old", stack.Coating, "skull", "1990", of(epoxy))
	shut := newStack(t, bone(), coat("below", "skull", "1980"), old)
	if p := shut.Plan(stack.PlanRequest{}); len(p.Unreachable) != 2 {
		t.Fatalf("got %+v, want a lid without a test", p.Unreachable)
	}
	s := newStack(t, bone(), coat("below", "skull", "1980"), old, tried("t", "skull", "2026-01", "old", "dichloromethane", "dissolves"))
	p := s.Plan(stack.PlanRequest{})
	if got := steps(p); got != "old below" || len(p.Unreachable) > 0 {
		t.Errorf("got %q and %v, want both layers to come off", got, p.Unreachable)
	}
	if c := find(p.Steps[0], "dichloromethane"); c == nil || c.Test {
		t.Errorf("got %+v, want the liquid that was tried", c)
	}
	if r := reversal(t, s, "old"); r.Redissolvable.Answer != stack.Yes || r.Removable.Answer != stack.Partial ||
		!r.Removable.Contradicted ||
		r.Removable.Evidence[0].Treatment != "t" {
		t.Errorf("got %+v, want it to come off in part, by the test", r)
	}
	fresh := put("new", stack.Coating, "skull", "2025", of(acetate, "acetone"))
	if before := reversal(t, newStack(t, bone(), fresh), "new"); before.Removable.Answer != stack.Yes {
		t.Skipf("the tables do not promise it: %+v", before.Removable)
	}
	none := newStack(t, bone(), fresh, tried("t", "skull", "2026-01", "new", "acetone", "no-effect"))
	if r := reversal(t, none, "new"); r.Removable.Answer != stack.Unknown || !r.Removable.Contradicted {
		t.Errorf("got %+v, want unknown: what was tried did nothing", r.Removable)
	}
}
