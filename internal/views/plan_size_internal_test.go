package views

import (
	"fmt"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/edtf"
	"meniscus/internal/material"
	"meniscus/internal/stack"
	"meniscus/internal/wire"
)

// coats are n coats of different resins, one over the other.
func coats(t *testing.T, n int) *stack.Stack {
	t.Helper()
	resins := []string{
		"ethyl-methacrylate-methyl-acrylate-copolymer", "poly-isobutyl-methacrylate", "poly-vinyl-butyral",
		"poly-vinyl-acetate-resin", "cellulose-nitrate", "shellac", "animal-glue",
	}
	var treatments []stack.Treatment
	for i := range n {
		date, err := edtf.Parse(fmt.Sprintf("%d-%02d", 1700+i/12, 1+i%12))
		if err != nil {
			t.Fatal(err)
		}
		treatments = append(treatments, stack.Treatment{
			ID: uuid.NewString(), Action: stack.Coating, Method: stack.Brush, Areas: []stack.Area{"skull"}, When: date.Period(),
			Uses: []stack.Use{{Solids: []stack.Ref{{Material: resins[i%len(resins)]}}, Certainty: "recorded"}},
		})
	}
	st, err := stack.New(stack.Config{
		Treatments: treatments, Knowledge: material.Builtin(), At: edtf.Day{Year: 2026, Month: 3, Day: 2},
	})
	if err != nil {
		t.Fatal(err)
	}
	return st
}

// TestAPlanIsBounded: a plan of 200 layers has a hundred steps. Of the layers that a
// liquid disturbs it names a few and counts all; ten times the layers make it no larger.
func TestAPlanIsBounded(t *testing.T) {
	t.Parallel()
	sizes := map[int]int{}
	for _, n := range []int{200, 2_000} {
		st := coats(t, n)
		plan := st.Plan(stack.PlanRequest{})
		steps := each(plan.Steps, newPlanWriter(st, material.Builtin(), Room{}).step)
		counted := false
		for _, s := range steps {
			for _, c := range *s.Candidates {
				saidOnce(t, steps, c)
				named := 0
				for _, x := range c.Collateral {
					named += len(x.Layers)
					counted = counted || int(x.Count) > len(x.Layers)
				}
				if named > 5 {
					t.Fatalf("%d layers: got %d named for one liquid, want 5 at most", n, named)
				}
			}
		}
		body, err := wire.Encode(steps)
		if err != nil || len(steps) != 100 || !counted {
			t.Fatalf("%d layers: got %d steps, counted beyond the named: %v, %v", n, len(steps), counted, err)
		}
		sizes[n] = len(body)
	}
	if sizes[200] > 310_000 || sizes[2_000] > 310_000 {
		t.Errorf("got %v bytes, want 310 kB at most", sizes)
	}
}

// TestAPlanInBriefIsShort: ten layers are told in 6 kB, 200 in 200 kB, with every step, and with
// every block, preparation and caution of the plan in full.
func TestAPlanInBriefIsShort(t *testing.T) {
	t.Parallel()
	for n, most := range map[int]int{10: 6_000, 200: 200_000} {
		st := coats(t, n)
		full := RemovalPlan(uuid.New(), st, stack.PlanRequest{}, material.Builtin(), Room{})
		brief := BriefRemovalPlan(full)
		body, err := wire.Encode(brief)
		if err != nil || len(body) > most || len(brief.Steps) != min(n, 100) {
			t.Errorf("%d layers: got %d bytes and %d steps, %v, want %d bytes at most: %s", n, len(body), len(brief.Steps), err,
				most, body[:min(len(body), 2_000)])
		}
		briefly := BriefRemovalPlan(RemovalPlan(full.Specimen.Id, st, stack.PlanRequest{Brief: true},
			material.Builtin(), Room{}))
		if diff := cmp.Diff(brief, briefly); diff != "" {
			t.Errorf("%d layers: worked out in brief, got another plan:\n%s", n, diff)
		}
		if len(brief.Findings) != len(full.Findings) || len(brief.Before) != len(full.Before) ||
			!slices.Equal(brief.Cautions, full.Cautions) {
			t.Errorf("%d layers: got a block, a preparation or a caution cut", n)
		}
		for i, s := range full.Steps {
			for _, caution := range *s.Cautions {
				if !slices.ContainsFunc(brief.Cautions, func(c string) bool { return strings.HasSuffix(c, ": "+caution) }) {
					t.Errorf("%d layers, step %d: got its caution lost: %s", n, i+1, caution)
				}
			}
		}
	}
}

// TestAPlansTextKeepsItsSteps: whatever else is cut, hazards, blocks, cautions and steps stand in the short text.
func TestAPlansTextKeepsItsSteps(t *testing.T) {
	t.Parallel()
	full := RemovalPlan(uuid.New(), coats(t, 12), stack.PlanRequest{}, material.Builtin(), Room{})
	hazards := stack.Specimen{Hazards: []stack.Hazard{
		{Name: "arsenic", Status: "known", Caution: strings.Repeat("caution ", 60)}, {Name: "mould", Status: "suspected"},
	}}
	full.Hazards, full.Cautions = aboutOf(&hazards).hazards, append(hazards.Notices(), full.Cautions...)
	short := strings.Join(strings.Fields(RemovalPlanText(BriefRemovalPlan(full)).Short("https://meniscus.example/x")), " ")
	for i, s := range full.Steps {
		if !strings.Contains(short, fmt.Sprintf("%d. %s", i+1, s.Sentence)) {
			t.Errorf("lacks step %d: %s", i+1, short)
		}
	}
	for _, caution := range full.Cautions {
		if !strings.Contains(short, caution) {
			t.Errorf("lacks the caution %q: %s", caution, short)
		}
	}
}

// saidOnce checks that the evidence of a liquid is here, or at the step that is named.
func saidOnce(t *testing.T, steps []api.RemovalStep, c api.RemovalCandidate) {
	t.Helper()
	if c.SameAsStep == nil {
		if len(c.Evidence) == 0 {
			t.Errorf("%s: got no evidence and no step that has it", c.Solvent)
		}
		return
	}
	for _, earlier := range *steps[*c.SameAsStep-1].Candidates {
		if earlier.Solvent == c.Solvent && earlier.SameAsStep == nil && len(earlier.Evidence) > 0 && len(c.Evidence) == 0 {
			return
		}
	}
	t.Errorf("%s: step %d does not list it", c.Solvent, *c.SameAsStep)
}

// TestWhatIsToBeKeptIsSaidAtEachStep: the layers to be kept that a liquid disturbs are
// named at each step, also where an earlier step has the rest.
func TestWhatIsToBeKeptIsSaidAtEachStep(t *testing.T) {
	t.Parallel()
	st := coats(t, 30)
	wanted := []string{}
	for i, l := range st.Layers() {
		if i%7 == 0 || i > 20 {
			wanted = append(wanted, l.Treatment)
		}
	}
	plan := st.Plan(stack.PlanRequest{Treatments: wanted})
	w, again := newPlanWriter(st, material.Builtin(), Room{}), 0
	for _, step := range plan.Steps {
		for i, c := range *w.step(step).Candidates {
			kept := 0
			for _, x := range c.Collateral {
				if !x.Wanted {
					kept += int(x.Count)
				}
			}
			if want := step.Candidates[i].Disturbed + step.Candidates[i].Unknown; kept != want {
				t.Errorf("%s: got %d layers to be kept, want %d", c.Solvent, kept, want)
			}
			if c.SameAsStep != nil {
				again++
			}
		}
	}
	if again == 0 {
		t.Error("got every liquid listed at every step, want some said once")
	}
}

// TestManyPlansAtOnce: 128 plans of 200 layers that are all held at once, each with
// all that it was made from and its answer, take no more than 250 MB together.
func TestManyPlansAtOnce(t *testing.T) { // not parallel: it reads what the heap holds
	var before, after runtime.MemStats
	read := func(m *runtime.MemStats) {
		runtime.GC()
		runtime.GC()
		runtime.ReadMemStats(m)
	}
	coats(t, 1) // what is read once for all
	read(&before)
	type held struct {
		st    *stack.Stack
		plan  stack.RemovalPlan
		steps []api.RemovalStep
		body  []byte
	}
	all := make([]held, 128)
	var done sync.WaitGroup
	for i := range all {
		st := coats(t, 200)
		done.Go(func() {
			h := held{st: st, plan: st.Plan(stack.PlanRequest{})}
			h.steps = each(h.plan.Steps, newPlanWriter(st, material.Builtin(), Room{}).step)
			h.body, _ = wire.Encode(h.steps)
			all[i] = h
		})
	}
	done.Wait()
	read(&after)
	grown := int64(after.HeapAlloc) - int64(before.HeapAlloc)
	t.Logf("128 plans hold %d bytes", grown)
	if grown > 250<<20 || len(all[127].body) == 0 {
		t.Errorf("got %d bytes held by 128 plans, want 250 MB at most", grown)
	}
	runtime.KeepAlive(all)
}
