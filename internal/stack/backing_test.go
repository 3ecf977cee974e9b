package stack_test

import (
	"fmt"
	"runtime"
	"slices"
	"strings"
	"testing"

	"meniscus/internal/material"
	"meniscus/internal/stack"
)

// testsOf are n tests of the layer "a", each on a spot of its own and a month after
// the one before; a few of them have another result.
func testsOf(n int, differ map[int]string) []stack.Treatment {
	list := []stack.Treatment{put("a", stack.Coating, "skull", "1699", of(copolymer, "acetone"))}
	for i := range n {
		observed := "dissolves"
		if other, ok := differ[i]; ok {
			observed = other
		}
		spot := stack.Area(fmt.Sprint("skull/spot-", i))
		list = append(list, tried(fmt.Sprintf("t%03d", i), spot, month(i), "a", "acetone", observed))
	}
	return list
}

// TestWhichEvidenceIsKept: of very many tests an answer keeps a bounded number and
// counts the others: what decides it first, tests before tables and the newest
// first; and what contradicts is kept, however old it is.
func TestWhichEvidenceIsKept(t *testing.T) {
	t.Parallel()
	const n = 400
	s := newStack(t, bone(), testsOf(n, map[int]string{0: "no-effect", 7: "swells", 399: "softens"})...)
	tables := reversal(t, newStack(t, bone(), testsOf(0, nil)...), "a").Redissolvable.Evidence
	plan := s.Plan(stack.PlanRequest{})
	acetone := plan.Steps[0].Candidates[slices.IndexFunc(plan.Steps[0].Candidates, func(c stack.Candidate) bool {
		return c.Solvent == "acetone"
	})]
	undoing := reversal(t, s, "a").Redissolvable
	if undoing.Answer != stack.Yes || acetone.Observed != stack.Dissolves {
		t.Fatalf("got %s and %s, want what most tests saw", undoing.Answer, acetone.Observed)
	}
	for of, got := range map[string]stack.Backing{"undoing": undoing.Backing, "liquid": acetone.Backing} {
		if len(got.Evidence) != stack.MaxEvidence {
			t.Fatalf("%s: got %d entries, want %d", of, len(got.Evidence), stack.MaxEvidence)
		}
		if all := len(got.Evidence) + got.MoreEvidence; all < n+1 {
			t.Errorf("%s: got %d entries and %d more, want all %d tests and the tables counted", of, len(got.Evidence),
				got.MoreEvidence, n)
		}
		if first := got.Evidence[0]; first.Treatment != "t398" || !strings.Contains(first.Says, "dissolves") {
			t.Errorf("%s: got %v first, want the newest of the tests that decide", of, first)
		}
		var ids []string
		for _, e := range got.Evidence {
			ids = append(ids, e.Treatment)
		}
		if tests := slices.Index(ids, ""); tests < 0 || slices.ContainsFunc(ids[tests:], func(id string) bool {
			return id != ""
		}) {
			t.Errorf("%s: got %v, want tests before tables, and some of each", of, ids)
		}
		for _, against := range []string{"t000", "t007", "t399"} {
			if !slices.Contains(ids, against) {
				t.Errorf("%s: got %v, want %s among them, which saw something else", of, ids, against)
			}
		}
	}
	if want := len(tables) + n; len(undoing.Evidence)+undoing.MoreEvidence != want {
		t.Errorf("got %d and %d more, want %d in all", len(undoing.Evidence), undoing.MoreEvidence, want)
	}
}

// TestTheWorstOfManyTestsSpeaks: one test in four hundred saw the layer dissolve; a
// check of the liquid says so, and names that test first.
func TestTheWorstOfManyTestsSpeaks(t *testing.T) {
	t.Parallel()
	differ := map[int]string{}
	for i := range 400 {
		differ[i] = "no-effect"
	}
	delete(differ, 11)
	s := newStack(t, bone(), testsOf(400, differ)...)
	found := check(t, s, put("new", stack.Cleaning, "skull", "2026-02", of("", "acetone")), stack.CheckConfig{})
	for _, f := range found.Findings {
		if len(f.Evidence) > 0 && f.Evidence[0].Treatment == "t011" && f.MoreEvidence == 400-stack.MaxEvidence {
			return
		}
	}
	t.Errorf("got %v, want a finding that rests on t011", found.Findings)
}

// TestTestsThatSayTheSameAreCounted: of tests with the same result in the same place
// the newest ten are evidence, and the others are counted, except those that are
// surely older than the layer.
func TestTestsThatSayTheSameAreCounted(t *testing.T) {
	t.Parallel()
	list := []stack.Treatment{put("a", stack.Coating, "skull", "1702-01", words("varnish"))}
	for i := range 60 { // from January 1700 to December 1704, 24 of them before the layer
		list = append(list, tried(fmt.Sprintf("t%02d", i), "skull", month(i), "", "acetone", "swells"))
	}
	found := check(t, newStack(t, bone(), list...), resin("acetone", areas("skull")), stack.CheckConfig{})
	for _, f := range found.Findings {
		if len(f.Evidence) == 0 || f.Evidence[0].Treatment == "" {
			continue
		}
		if f.Evidence[0].Treatment != "t59" || len(f.Evidence)+f.MoreEvidence != 60-24 {
			t.Errorf("got %s first, %d entries and %d more, want t59 and %d in all", f.Evidence[0].Treatment,
				len(f.Evidence), f.MoreEvidence, 60-24)
		}
		return
	}
	t.Errorf("got %v, want a finding that rests on the tests", found.Findings)
}

// TestAPlanOfMuchEvidence: a plan of coats whose uppermost was tested very often
// allocates little more than one of untested coats.
func TestAPlanOfMuchEvidence(t *testing.T) { // not parallel: it counts what is allocated
	coats := made(100, func(i int, id string) stack.Treatment {
		return put(id, stack.Coating, "skull", month(i), of(copolymer, "acetone"))
	})
	tests := made(400, func(i int, id string) stack.Treatment {
		spot := stack.Area(fmt.Sprint("skull/spot-", i))
		return tried("test-"+id, spot, month(2000+i), "t00099", "acetone", "swells")
	})
	var bytes []uint64
	for _, history := range [][]stack.Treatment{coats, slices.Concat(coats, tests)} {
		s := newStack(t, bone(), history...)
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		s.Plan(stack.PlanRequest{})
		runtime.ReadMemStats(&after)
		bytes = append(bytes, after.TotalAlloc-before.TotalAlloc)
	}
	if bytes[1] > bytes[0]+4<<20 {
		t.Errorf("got %d bytes without tests and %d with them, want 4 MB more at most", bytes[0], bytes[1])
	}
}

// TestAStepIsBounded: a step lists a bounded number of liquids, reasons, groups of
// layers and areas out of reach, and counts the others.
func TestAStepIsBounded(t *testing.T) {
	t.Parallel()
	t.Run("liquids", func(t *testing.T) {
		t.Parallel()
		list := []stack.Treatment{put("a", stack.Coating, "skull", "1699", of(copolymer, "acetone"))}
		for i := range 300 {
			list = append(list, tried(fmt.Sprintf("t%03d", i), "skull", month(i), "a", fmt.Sprint("own-", i), "dissolves"))
		}
		step := newStack(t, bone(), list...).Plan(stack.PlanRequest{}).Steps[0]
		if len(step.Candidates) != 50 || step.MoreCandidates < 250 {
			t.Errorf("got %d liquids and %d more, want 50 and all others counted", len(step.Candidates), step.MoreCandidates)
		}
		undoing := reversal(t, newStack(t, bone(), list...), "a").Redissolvable
		if len(undoing.Evidence) != stack.MaxEvidence || undoing.MoreEvidence < 280 {
			t.Errorf("got %d entries and %d more", len(undoing.Evidence), undoing.MoreEvidence)
		}
	})
	t.Run("groups", func(t *testing.T) {
		t.Parallel()
		plan := newStack(t, bone(), mixtures(200)...).Plan(stack.PlanRequest{Treatments: []string{"t00199"}})
		for _, c := range plan.Steps[0].Candidates {
			listed := 0
			for _, x := range c.Collateral {
				listed += x.Count
			}
			if len(c.Collateral) > 20 || len(c.Why) > 10 || listed+c.MoreCollateral != c.Disturbed+c.Unknown {
				t.Errorf("%s: got %d groups, %d reasons, %d layers and %d more of %d", c.Solvent, len(c.Collateral), len(c.Why),
					listed, c.MoreCollateral, c.Disturbed+c.Unknown)
			}
		}
	})
	t.Run("areas out of reach", func(t *testing.T) {
		t.Parallel()
		parts := areaNames(500, "skull/part-")
		plan := newStack(t, bone(), put("coat", stack.Coating, "skull", "1700", of(copolymer, "acetone")),
			with(put("lid", stack.Joining, "", "1800", of(epoxy)), areas(parts...))).Plan(stack.PlanRequest{})
		x := plan.Steps[0].Except
		if len(x) != 1 || len(x[0].Areas) != 20 || x[0].MoreAreas != 480 {
			t.Errorf("got %v, want 20 areas out of reach and 480 more", x)
		}
	})
}

// TestTheMaterialThatSetsTheLimitIsNamed: for a layer of many materials the evidence
// for the one that stands the least heat comes first, and a temperature at which one is
// at risk is kept.
func TestTheMaterialThatSetsTheLimitIsNamed(t *testing.T) {
	t.Parallel()
	use := of(copolymer, "acetone")
	for _, m := range material.Builtin().Materials(material.Filter{}) {
		if m.ID != copolymer && len(material.Builtin().Property(m.ID, material.GlassTransition, "").All) > 0 {
			use.Solids = append(use.Solids, stack.Ref{Material: m.ID})
		}
	}
	layer := newStack(t, bone(), put("a", stack.Coating, "skull", "1990", use)).Travel().Layers[0]
	if len(layer.Limit.Evidence) != stack.MaxEvidence || layer.Limit.MoreEvidence == 0 {
		t.Fatalf("got %d entries and %d more of %d materials", len(layer.Limit.Evidence), layer.Limit.MoreEvidence,
			len(use.Solids))
	}
	for _, says := range []string{"sound in service", "at risk", "glass transition"} {
		if !slices.ContainsFunc(layer.Limit.Evidence, func(e stack.Evidence) bool { return strings.HasPrefix(e.Says, says) }) {
			t.Errorf("got %v, want one that says %q", layer.Limit.Evidence, says)
		}
	}
}
