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
	"mixtures of their own": mixtures,
	"tests of one layer": func(n int) []stack.Treatment {
		return made(n, func(i int, id string) stack.Treatment {
			if i == 0 {
				return put(id, stack.Coating, "skull", "1700", of(copolymer, "acetone"))
			}
			return tried(id, stack.Area(fmt.Sprint("skull/spot-", i)), month(i), "t00000", "acetone", "swells")
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

// TestTwiceAsManyMixtures: where many different mixtures share few materials, every
// view queries the tables once for each material and liquid. (Of a mixture no more is
// asked once one of its materials dissolves.)
func TestTwiceAsManyMixtures(t *testing.T) {
	t.Parallel()
	for view, f := range map[string]func(s *stack.Stack){
		"check":      func(s *stack.Stack) { check(t, s, resin("acetone", areas("whole")), stack.CheckConfig{}) },
		"plan":       func(s *stack.Stack) { s.Plan(stack.PlanRequest{}) },
		"reversible": func(s *stack.Stack) { s.Reversibility() },
		"takes off":  func(s *stack.Stack) { s.TakesOff() },
	} {
		asked := map[int]int{}
		for _, n := range []int{400, 800} {
			s := newStack(t, ribs(), mixtures(n)...)
			f(s)
			asked[n] = s.TablesAsked()
		}
		if asked[400] == 0 || asked[800] > asked[400]+20 {
			t.Errorf("%s: got the tables asked %v times, want hardly more for twice as many", view, asked)
		}
	}
}

// mixtures are n coats, each of other materials than all before.
func mixtures(n int) []stack.Treatment {
	materials := []string{copolymer, isobutyl, nButyl, pvbLow, pvbHigh, acetate, nitrate, wax, "shellac", "animal-glue"}
	return made(n, func(i int, id string) stack.Treatment {
		use := of(copolymer, "acetone")
		for bit, material := range materials {
			if (1023-i)&(1<<bit) != 0 { // the first is of all of them
				use.Solids = append(use.Solids, stack.Ref{Material: material})
			}
		}
		return put(id, stack.Coating, "skull", month(i), use)
	})
}

// TestTwiceAsManyTreatments: twice the treatments take about twice the memory
// in every view, and not four times.
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
	cost := map[string]uint64{}
	for view, f := range map[string]func(s *stack.Stack){
		"new":         func(*stack.Stack) { _, _ = stack.New(config) },
		"present":     func(s *stack.Stack) { s.Present() },
		"check":       func(s *stack.Stack) { check(t, s, resin("acetone", areas("whole")), stack.CheckConfig{}) },
		"plan":        func(s *stack.Stack) { s.Plan(stack.PlanRequest{}) },
		"suitability": func(s *stack.Stack) { s.Suitability() },
		"reversible":  func(s *stack.Stack) { s.Reversibility() },
		"takes off":   func(s *stack.Stack) { s.TakesOff() },
		"travel":      func(s *stack.Stack) { s.Travel() },
		"timeline":    func(s *stack.Stack) { s.Timeline("crowd") },
	} {
		s, err := stack.New(config) // a stack with an empty cache
		if err != nil {
			t.Fatal(err)
		}
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		f(s)
		runtime.ReadMemStats(&after)
		cost[view] = after.TotalAlloc - before.TotalAlloc
	}
	return cost
}
