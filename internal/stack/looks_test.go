package stack_test

import (
	"fmt"
	"testing"

	"meniscus/internal/stack"
)

// awkward are histories in which much could be walked again for each layer.
var awkward = map[string]func(n int) []stack.Treatment{
	// no barrier stands any more, so that each layer of resin looks for one among all
	"barriers that came off": func(n int) []stack.Treatment {
		return made(n, func(i int, id string) stack.Treatment {
			switch i % 4 {
			case 0:
				return put(id, stack.BarrierCoat, "skull", month(i), of(copolymer, "acetone"))
			case 1:
				return off(id, "skull", month(i), stack.NotDetected, "acetone", fmt.Sprintf("t%05d", i-1))
			}
			return put(id, stack.Joining, "skull", month(i), of(epoxy))
		})
	},
	// no date tells the order, so that relations are followed
	"undated resin over barriers": func(n int) []stack.Treatment {
		return made(n, func(i int, id string) stack.Treatment {
			if i%2 == 0 {
				return put(id, stack.BarrierCoat, "skull", "", of(copolymer, "acetone"))
			}
			t := put(id, stack.Joining, "skull", "", of(epoxy))
			t.Relations = []stack.Relation{{Kind: stack.Over, To: fmt.Sprintf("t%05d", i-1)}}
			return t
		})
	},
	"what sublimes in areas of its own": func(n int) []stack.Treatment {
		return made(n, func(i int, id string) stack.Treatment {
			return put(id, stack.Coating, stack.Area("bone-"+id), month(i), of("cyclododecane"))
		})
	},
	"removals in a part": func(n int) []stack.Treatment {
		return made(n, func(i int, id string) stack.Treatment {
			if i%2 == 0 {
				return put(id, stack.Coating, "skull", month(i), of(copolymer, "acetone"))
			}
			return off(id, "skull/jaw", month(i), stack.Reduced, "acetone")
		})
	},
	"examinations in a part": func(n int) []stack.Treatment {
		return made(n, func(i int, id string) stack.Treatment {
			if i%2 == 0 {
				return put(id, stack.Coating, "skull", month(i), of(copolymer, "acetone"))
			}
			return examined(id, "skull/jaw", month(i))
		})
	},
	"removals in areas of their own": func(n int) []stack.Treatment {
		return made(n, func(i int, id string) stack.Treatment {
			area := stack.Area(fmt.Sprint("bone-", i/2))
			if i%2 == 0 {
				return put(id, stack.Coating, area, month(i), of(copolymer, "acetone"))
			}
			return off(id, area, month(i), stack.Reduced, "acetone")
		})
	},
	"lids over a whole": func(n int) []stack.Treatment {
		return made(n, func(i int, id string) stack.Treatment {
			return put(id, stack.Joining, "skull", month(i), of(epoxy))
		})
	},
}

// TestLooksGrowWithTheLayers: with twice the treatments about twice as many layers
// and relations are looked at.
func TestLooksGrowWithTheLayers(t *testing.T) {
	t.Parallel()
	for _, some := range []map[string]func(n int) []stack.Treatment{crowds, more, awkward} {
		for name, history := range some {
			const n = 1000
			once, twice := newStack(t, ribs(), history(n)...), newStack(t, ribs(), history(2*n)...)
			if got, limit := twice.Looked(), 5*once.Looked()/2+1000; got > limit {
				t.Errorf("%s: a stack of %d looks at %d, and of %d at %d", name, n, once.Looked(), 2*n, got)
			}
			if got, limit := twice.ShutOffLooks(), 5*once.ShutOffLooks()/2+1000; got > limit {
				t.Errorf("%s: what is shut off of %d takes %d looks, and of %d %d", name, n, once.ShutOffLooks(), 2*n, got)
			}
		}
	}
}
