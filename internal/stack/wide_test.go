package stack_test

import (
	"fmt"
	"testing"

	"meniscus/internal/stack"
)

// areaNames are n areas.
func areaNames(n int, prefix string) []stack.Area {
	var out []stack.Area
	for i := range n {
		out = append(out, stack.Area(fmt.Sprint(prefix, i)))
	}
	return out
}

// joinedRibs are n ribs that lie apart and that the first of 20 treatments joins; the
// others are on all of them.
func joinedRibs(n int, way stack.Method) (stack.Specimen, []stack.Treatment) {
	ribs := areaNames(n, "rib-")
	return bone(pieces(ribs...)), made(20, func(i int, id string) stack.Treatment {
		t := with(put(id, stack.Consolidation, "", month(i), of(copolymer, "acetone")), areas(ribs...), method(way))
		if i == 0 {
			t.Action = stack.Joining
		}
		return t
	})
}

// wide are histories of few treatments with n areas each.
var wide = map[string]func(n int) (stack.Specimen, []stack.Treatment){
	"baths of joined pieces": func(n int) (stack.Specimen, []stack.Treatment) { return joinedRibs(n, stack.Immersion) },
	"joined pieces, the way not known": func(n int) (stack.Specimen, []stack.Treatment) {
		return joinedRibs(n, stack.UnknownMethod)
	},
	"joined pieces by brush": func(n int) (stack.Specimen, []stack.Treatment) { return joinedRibs(n, stack.Brush) },
	"bridges between joined pieces": func(n int) (stack.Specimen, []stack.Treatment) {
		specimen, history := joinedRibs(n, stack.Immersion)
		for i := range history {
			for k := range i {
				history[i].Relations = append(history[i].Relations, stack.Relation{Kind: stack.Bridges, To: history[k].ID})
			}
		}
		return specimen, history
	},
}

// uses are n materials in turn.
func uses(n int) []stack.Use {
	materials := []string{copolymer, isobutyl, pvbHigh, acetate, nitrate, wax, "shellac", "animal-glue"}
	var out []stack.Use
	for i := range n {
		out = append(out, of(materials[i%len(materials)], "acetone"))
	}
	return out
}

// thick are histories of few treatments with n materials each.
var thick = map[string]func(n int) []stack.Treatment{
	"each over all before": func(n int) []stack.Treatment {
		return made(15, func(i int, id string) stack.Treatment {
			t := put(id, stack.Coating, "skull", "", uses(n)...)
			for k := range i {
				t.Relations = append(t.Relations, stack.Relation{Kind: stack.Over, To: fmt.Sprintf("t%05d", k)})
			}
			return t
		})
	},
	"in a circle": func(n int) []stack.Treatment {
		return made(15, func(i int, id string) stack.Treatment {
			return with(put(id, stack.Coating, "skull", month(i), uses(n)...),
				relation(stack.Over, fmt.Sprintf("t%05d", (i+1)%15)))
		})
	},
	"dates against relations": func(n int) []stack.Treatment {
		return made(15, func(i int, id string) stack.Treatment {
			return with(put(id, stack.Coating, "skull", month(i), uses(n)...), relation(stack.Under, fmt.Sprintf("t%05d", i/2)))
		})
	},
	"on forty areas": func(n int) []stack.Treatment {
		return made(15, func(i int, id string) stack.Treatment {
			return with(put(id, stack.Coating, "", month(i), uses(n)...), areas(areaNames(40, "skull/")...))
		})
	},
	"removed by all": func(n int) []stack.Treatment {
		return made(15, func(i int, id string) stack.Treatment {
			if i%2 == 0 {
				return put(id, stack.Coating, "skull", month(i), uses(n)...)
			}
			return with(off(id, "", month(i), stack.Reduced, "acetone", "t00000", "t00002", "t00004"),
				areas(areaNames(40, "skull/")...))
		})
	},
}

// TestTwiceAsManyMaterials: with twice the materials in each treatment about twice
// as much is looked at and tied together, and every view takes about twice the
// memory.
func TestTwiceAsManyMaterials(t *testing.T) { // not parallel: it counts what is allocated
	for name, history := range thick {
		const n = 40
		a, once := newStack(t, bone(), history(n)...), costs(t, bone(), history(n))
		b, twice := newStack(t, bone(), history(2*n)...), costs(t, bone(), history(2*n))
		if b.Looked() > 5*a.Looked()/2+1000 || b.Edges() > 5*a.Edges()/2+1000 {
			t.Errorf("%s: with %d materials a stack looks at %d and has %d edges, and with %d %d and %d",
				name, n, a.Looked(), a.Edges(), 2*n, b.Looked(), b.Edges())
		}
		for view, bytes := range twice {
			if limit := 5*once[view]/2 + 1<<20; bytes > limit {
				t.Errorf("%s: %s: got %d bytes for %d materials and %d for %d", name, view, once[view], n, bytes, 2*n)
			}
		}
	}
}

// TestTwiceAsManyAreas: with twice the areas about twice as many are looked at,
// and every view takes about twice the memory.
func TestTwiceAsManyAreas(t *testing.T) { // not parallel: it counts what is allocated
	for name, history := range wide {
		const n = 150
		specimen, treatments := history(n)
		looked, once := newStack(t, specimen, treatments...).Looked(), costs(t, specimen, treatments)
		specimen, treatments = history(2 * n)
		if got, limit := newStack(t, specimen, treatments...).Looked(), 5*looked/2+1000; got > limit {
			t.Errorf("%s: with %d areas a stack looks at %d, and with %d at %d", name, n, looked, 2*n, got)
		}
		for view, bytes := range costs(t, specimen, treatments) {
			if limit := 5*once[view]/2 + 1<<20; bytes > limit {
				t.Errorf("%s: %s: got %d bytes for %d areas and %d for %d", name, view, once[view], n, bytes, 2*n)
			}
		}
	}
}
