package stack_test

import (
	"fmt"
	"runtime"
	"testing"

	"meniscus/internal/material"
	"meniscus/internal/stack"
)

// more are crowds beyond the ordinary ones, each with something that could be
// walked again for every treatment.
var more = map[string]func(n int) []stack.Treatment{
	"areas within areas": func(n int) []stack.Treatment {
		return made(n, func(i int, id string) stack.Treatment {
			area := stack.Area("skull")
			for d := range i % 30 {
				area += stack.Area(fmt.Sprintf("/part-%d", d))
			}
			return put(id, stack.Coating, area, month(i), of(copolymer, "acetone"))
		})
	},
	"bridges": func(n int) []stack.Treatment {
		return made(n, func(i int, id string) stack.Treatment {
			t := put(id, stack.Coating, stack.Area(fmt.Sprintf("rib-%d", i%20)), month(i), of(copolymer, "acetone"))
			if i > 0 {
				t.Relations = []stack.Relation{{Kind: stack.Bridges, To: fmt.Sprintf("t%05d", i-1)}}
			}
			return t
		})
	},
	"a chain of relations": func(n int) []stack.Treatment {
		return made(n, func(i int, id string) stack.Treatment {
			t := put(id, stack.Coating, "skull", "", of(copolymer, "acetone"))
			if i > 0 {
				t.Relations = []stack.Relation{{Kind: stack.Over, To: fmt.Sprintf("t%05d", i-1)}}
			}
			return t
		})
	},
	"lids": func(n int) []stack.Treatment {
		return made(n, func(i int, id string) stack.Treatment {
			return put(id, stack.Joining, "skull", month(i), of(epoxy))
		})
	},
	"a chain of lids": func(n int) []stack.Treatment {
		return made(n, func(i int, id string) stack.Treatment {
			t := put(id, stack.Joining, "skull", month(i), of(epoxy))
			if i > 0 {
				t.Relations = []stack.Relation{{Kind: stack.Over, To: fmt.Sprintf("t%05d", i-1)}}
			}
			return t
		})
	},
	"removals of many": func(n int) []stack.Treatment {
		return made(n, func(i int, id string) stack.Treatment {
			if i%50 == 49 {
				var names []string
				for j := i - 49; j < i; j++ {
					names = append(names, fmt.Sprintf("t%05d", j))
				}
				return off(id, "skull", month(i), stack.Reduced, "acetone", names...)
			}
			return put(id, stack.Coating, "skull", month(i), of(copolymer, "acetone"))
		})
	},
}

// TestTwiceAsManyTreatments: twice the treatments take some twice the memory in
// every view, and not four times.
func TestTwiceAsManyTreatments(t *testing.T) { // not parallel: it counts what is allocated
	all := map[string]func(n int) []stack.Treatment{}
	for _, some := range []map[string]func(n int) []stack.Treatment{crowds, more} {
		for name, history := range some {
			all[name] = history
		}
	}
	const n = 800
	for name, history := range all {
		once, twice := costs(t, ribs(), history(n)), costs(t, ribs(), history(2*n))
		for view, bytes := range twice {
			if limit := 3*once[view] + 1<<20; bytes > limit {
				t.Errorf("%s: %s: got %d bytes for %d treatments and %d for %d", name, view, once[view], n, bytes, 2*n)
			}
		}
	}
}

// costs is how many bytes each view of a history allocates.
func costs(t *testing.T, specimen stack.Specimen, treatments []stack.Treatment) map[string]uint64 {
	t.Helper()
	config := stack.Config{Specimen: specimen, Treatments: treatments, Knowledge: material.Builtin(), At: today}
	s, err := stack.New(config)
	if err != nil {
		t.Fatal(err)
	}
	cost := map[string]uint64{}
	for view, f := range map[string]func(){
		"new":         func() { _, _ = stack.New(config) },
		"present":     func() { s.Present() },
		"check":       func() { check(t, s, resin("acetone", areas("whole")), stack.CheckConfig{}) },
		"plan":        func() { s.Plan(stack.PlanRequest{}) },
		"suitability": func() { s.Suitability() },
		"reversible":  func() { s.Reversibility() },
		"takes off":   func() { s.TakesOff() },
		"travel":      func() { s.Travel() },
		"timeline":    func() { s.Timeline("crowd") },
	} {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		f()
		runtime.ReadMemStats(&after)
		cost[view] = after.TotalAlloc - before.TotalAlloc
	}
	return cost
}
