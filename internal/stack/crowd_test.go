package stack_test

import (
	"fmt"
	"maps"
	"slices"
	"testing"

	"meniscus/internal/material"
	"meniscus/internal/stack"
)

// crowd is a specimen's history of n treatments, from the ordinary to the
// awkward: many areas and one, dates that overlap and unknown dates.
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

// made makes n treatments.
func made(n int, one func(i int, id string) stack.Treatment) []stack.Treatment {
	var out []stack.Treatment
	for i := range n {
		out = append(out, one(i, fmt.Sprintf("t%05d", i)))
	}
	return out
}

// month is a date of its own for each of a few thousand treatments.
func month(i int) string { return fmt.Sprintf("%d-%02d", 1700+i/12%300, 1+i%12) }

// crowds are histories of n treatments, each with much of one thing.
var crowds = map[string]func(n int) []stack.Treatment{
	"ordinary": crowd,
	// every pair is undetermined
	"undated": func(n int) []stack.Treatment {
		return made(n, func(_ int, id string) stack.Treatment {
			return put(id, stack.Coating, "skull", "", of(copolymer, "acetone"))
		})
	},
	"areas of their own": func(n int) []stack.Treatment {
		return made(n, func(i int, id string) stack.Treatment {
			return put(id, stack.Coating, stack.Area("bone-"+id), month(i), of(copolymer, "acetone"))
		})
	},
	"removals that name nothing": func(n int) []stack.Treatment {
		return made(n, func(i int, id string) stack.Treatment {
			switch i % 4 {
			case 1:
				return off(id, "skull", month(i), stack.Reduced, "acetone")
			case 2:
				return examined(id, "skull", month(i))
			}
			return put(id, stack.Coating, "skull/jaw", month(i), of(copolymer, "acetone"))
		})
	},
	"tests": func(n int) []stack.Treatment {
		return made(n, func(i int, id string) stack.Treatment {
			switch i % 4 {
			case 1:
				return tried(id, "skull", month(i), fmt.Sprintf("t%05d", i-1), "acetone", "swells")
			case 2:
				return tried(id, "skull", month(i), "", "acetone", "swells")
			}
			return put(id, stack.Coating, "skull", month(i), words("varnish"))
		})
	},
	"resin over barriers": func(n int) []stack.Treatment {
		return made(n, func(i int, id string) stack.Treatment {
			date := month(i)
			if i%3 == 0 {
				date = "1700/1999"
			}
			if i%2 == 0 {
				return put(id, stack.BarrierCoat, "skull", date, of(copolymer, "acetone"))
			}
			t := put(id, stack.Joining, "skull", date, of(epoxy))
			if i%90 == 11 {
				t.Relations = []stack.Relation{{Kind: stack.Over, To: fmt.Sprintf("t%05d", i-10)}}
			}
			return t
		})
	},
	"what sublimes": func(n int) []stack.Treatment {
		return made(n, func(i int, id string) stack.Treatment {
			return put(id, stack.Coating, "skull", month(i), of("cyclododecane"))
		})
	},
	"joints and baths": func(n int) []stack.Treatment {
		return made(n, func(i int, id string) stack.Treatment {
			if i%2 == 0 {
				return with(put(id, stack.Joining, "rib-1", month(i), of(copolymer, "acetone")),
					areas("rib-1", stack.Area(fmt.Sprintf("rib-%d", i%20))))
			}
			return with(put(id, stack.Consolidation, "rib-1", month(i), of(copolymer, "acetone")), method(stack.Immersion))
		})
	},
	"names of nothing": func(n int) []stack.Treatment {
		return made(n, func(i int, id string) stack.Treatment {
			if i%2 == 0 {
				return off(id, "skull", month(i), stack.Reduced, "acetone", "gone-"+id)
			}
			t := put(id, stack.Coating, "skull", month(i), of(copolymer, "acetone"))
			t.Relations = []stack.Relation{{Kind: stack.Over, To: "gone-" + id}}
			return t
		})
	},
	"circles": func(n int) []stack.Treatment {
		return made(n, func(i int, id string) stack.Treatment {
			t := put(id, stack.Coating, "skull", month(i), of(copolymer, "acetone"))
			t.Relations = []stack.Relation{{Kind: stack.Over, To: fmt.Sprintf("t%05d", (i+1)%n)}}
			return t
		})
	},
}

// ribs is a body of ribs that lie apart.
func ribs() stack.Specimen {
	var apart []stack.Area
	for i := range 20 {
		apart = append(apart, stack.Area(fmt.Sprintf("rib-%d", i)))
	}
	return bone(pieces(apart...))
}

// TestTenThousandTreatments answers within bounds: what is left out is counted.
func TestTenThousandTreatments(t *testing.T) {
	t.Parallel()
	for name, history := range crowds {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			s := newStack(t, ribs(), history(10_000)...)
			bounded(t, check(t, s, resin("acetone", areas("whole")), stack.CheckConfig{}))
			bounded(t, check(t, s, take("t00009", "acetone"), stack.CheckConfig{}))
			p := s.Plan(stack.PlanRequest{})
			if len(p.Steps) > 100 || len(p.Steps)+len(p.Unreachable)+len(p.AlreadyGone) == 0 || len(p.Questions) > 100 ||
				len(p.Contradictions) > 500 {
				t.Errorf("got %d steps, %d questions, %d contradictions, want a bounded plan", len(p.Steps), len(p.Questions),
					len(p.Contradictions))
			}
			if len(p.Steps) == 100 && p.Remaining == 0 {
				t.Error("got a full plan, want what is left counted")
			}
			if pr := s.Present(); len(pr.Undetermined) > 100 || len(pr.Undetermined) == 100 && !pr.MoreUndetermined {
				t.Errorf("got %d pairs, more %v, want them bounded", len(pr.Undetermined), pr.MoreUndetermined)
			}
			for _, a := range s.Suitability("radiocarbon").Analyses {
				for _, b := range a.Bearing {
					if len(b.Layers) > 100 || b.Count < len(b.Layers) || len(b.Areas) > 100 || b.AreaCount < len(b.Areas) {
						t.Errorf("%s: got %d treatments of %d on %d areas of %d, want at most 100 and the count", b.Subject,
							len(b.Layers), b.Count, len(b.Areas), b.AreaCount)
					}
				}
			}
			s.Reversibility()
			s.TakesOff()
			s.Travel()
			if svg := s.Timeline("crowd"); len(svg) > 1_000_000 {
				t.Errorf("got a picture of %d bytes, want it bounded", len(svg))
			}
		})
	}
}

// bounded wants findings grouped, with no more layers named and no more evidence
// given than an answer holds.
func bounded(t *testing.T, got stack.Checked) {
	t.Helper()
	if len(got.Findings) == 0 || len(got.Findings) > 300 || len(got.Cleared) > 300 {
		t.Errorf("got %d findings and %d cleared, want them grouped", len(got.Findings), len(got.Cleared))
	}
	for _, f := range got.Findings {
		if len(f.Layers) > 100 || f.Count < len(f.Layers) || len(f.Evidence) > stack.MaxEvidence {
			t.Errorf("%s: got %d layers named of %d, with %d pieces of evidence, want at most 100 and %d", f.Rule,
				len(f.Layers), f.Count, len(f.Evidence), stack.MaxEvidence)
		}
	}
}

// BenchmarkTreatments is to be near linear: ten times the treatments, about
// ten times as long.
func BenchmarkTreatments(b *testing.B) {
	for _, name := range slices.Sorted(maps.Keys(crowds)) {
		for _, n := range []int{1_000, 10_000} {
			treatments := crowds[name](n)
			config := stack.Config{Specimen: ribs(), Treatments: treatments, Knowledge: material.Builtin(), At: today}
			s, err := stack.New(config)
			if err != nil {
				b.Fatal(err)
			}
			last := treatments[n-1].ID
			for view, f := range map[string]func(){
				"new":         func() { _, _ = stack.New(config) },
				"present":     func() { s.Present() },
				"check":       func() { check(b, s, resin("acetone", areas("whole")), stack.CheckConfig{}) },
				"removal":     func() { check(b, s, take(last, "acetone"), stack.CheckConfig{}) },
				"recorded":    func() { _, _ = stack.CheckRecorded(config, last, stack.CheckConfig{}) },
				"plan":        func() { s.Plan(stack.PlanRequest{}) },
				"suitability": func() { s.Suitability() },
				"reversible":  func() { s.Reversibility() },
				"takes off":   func() { s.TakesOff() },
				"travel":      func() { s.Travel() },
				"timeline":    func() { s.Timeline("crowd") },
			} {
				b.Run(fmt.Sprint(name, "/", view, "/", n), func(b *testing.B) {
					for b.Loop() {
						f()
					}
				})
			}
		}
	}
}
