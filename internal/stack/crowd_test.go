package stack_test

import (
	"fmt"
	"testing"

	"meniscus/internal/material"
	"meniscus/internal/stack"
)

// crowd is a specimen's history of n treatments, from the ordinary to the
// awkward: many areas and one, dates that overlap and dates that nobody knows.
func crowd(n int) []stack.Treatment {
	materials := []string{copolymer, isobutyl, pvbHigh, acetate, nitrate, wax, "shellac", "animal-glue"}
	var out []stack.Treatment
	for i := range n {
		area := stack.Area(fmt.Sprintf("block-%d/face-%d", i%7, i%40))
		if i%10 == 0 {
			area = stack.Whole
		}
		date := fmt.Sprintf("%d-%02d", 1900+i%120, 1+i%12)
		switch i % 11 {
		case 3:
			date = ""
		case 5:
			date = "1950/1990"
		}
		t := put(fmt.Sprintf("t%05d", i), stack.Coating, area, date, of(materials[i%len(materials)], "acetone"))
		if i%50 == 7 {
			t = off(t.ID, area, "2020", stack.Reduced, "acetone", fmt.Sprintf("t%05d", i-7))
		}
		if i%90 == 11 {
			t.Relations = []stack.Relation{{Kind: stack.Over, To: fmt.Sprintf("t%05d", i-10)}}
		}
		out = append(out, t)
	}
	return out
}

// oneHeap is n treatments of the same place at times that nobody knows: every
// pair is undetermined.
func oneHeap(n int) []stack.Treatment {
	var out []stack.Treatment
	for i := range n {
		out = append(out, put(fmt.Sprintf("t%05d", i), stack.Coating, "skull", "", of(copolymer, "acetone")))
	}
	return out
}

// TestTenThousandTreatments answers within bounds: what is left out is counted.
func TestTenThousandTreatments(t *testing.T) {
	t.Parallel()
	for name, treatments := range map[string][]stack.Treatment{"crowd": crowd(10_000), "one heap": oneHeap(10_000)} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			s := newStack(t, bone(), treatments...)
			got := check(t, s, resin("acetone", areas("whole")), stack.CheckConfig{})
			if len(got.Findings) == 0 || len(got.Findings) > 300 {
				t.Errorf("got %d findings, want them grouped", len(got.Findings))
			}
			for _, f := range got.Findings {
				if len(f.Layers) > 100 || f.Count < len(f.Layers) {
					t.Errorf("got %d layers named of %d, want at most 100", len(f.Layers), f.Count)
				}
			}
			p := s.Plan(stack.PlanRequest{})
			if len(p.Steps) > 100 || p.Remaining == 0 || len(p.Questions) > 100 {
				t.Errorf("got %d steps, %d remaining, %d questions, want a bounded plan that counts the rest", len(p.Steps), p.Remaining, len(p.Questions))
			}
			if pr := s.Present(); len(pr.Undetermined) > 100 || !pr.MoreUndetermined {
				t.Errorf("got %d pairs, more %v, want them bounded", len(pr.Undetermined), pr.MoreUndetermined)
			}
			s.Suitability("radiocarbon")
			s.Reversibility()
			s.Travel()
		})
	}
}

// BenchmarkTreatments is to be near linear: ten times the treatments, some ten
// times as long.
func BenchmarkTreatments(b *testing.B) {
	for _, n := range []int{1_000, 10_000} {
		config := stack.Config{Specimen: bone(), Treatments: crowd(n), Knowledge: material.Builtin(), At: today}
		s, err := stack.New(config)
		if err != nil {
			b.Fatal(err)
		}
		for name, f := range map[string]func(){
			"new":         func() { _, _ = stack.New(config) },
			"present":     func() { s.Present() },
			"check":       func() { check(b, s, resin("acetone", areas("whole")), stack.CheckConfig{}) },
			"plan":        func() { s.Plan(stack.PlanRequest{}) },
			"suitability": func() { s.Suitability() },
			"reversible":  func() { s.Reversibility() },
		} {
			b.Run(fmt.Sprint(name, "/", n), func(b *testing.B) {
				for b.Loop() {
					f()
				}
			})
		}
	}
}
