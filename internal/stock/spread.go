package stock

import (
	"maps"
	"slices"
	"strings"

	"meniscus/internal/edtf"
)

// dawn is before every date.
var dawn = edtf.Day{Year: -10000, Month: 1, Day: 1}

// began and ended are the bounds of a period; an end that nobody knows is as far
// away as can be.
func began(p edtf.Period) edtf.Day {
	if p.From.IsZero() {
		return dawn
	}
	return p.From
}

func ended(p edtf.Period) edtf.Day {
	if p.To.IsZero() {
		return endOfTime
	}
	return p.To
}

// A held is since when a batch holds what is traced: not before From, and
// certainly from By on; endOfTime if that is never certain.
type held struct{ From, By edtf.Day }

func (r held) or(other held) held { return held{earlier(r.From, other.From), earlier(r.By, other.By)} }

func earlier(a, b edtf.Day) edtf.Day {
	if b.Compare(a) < 0 {
		return b
	}
	return a
}

// A step is something that went into a batch: when that was made, or later.
type step struct {
	into  string
	later bool
	when  edtf.Period
}

func intoOf(batches []User) map[string][]step {
	into := map[string][]step{}
	for _, b := range batches {
		for _, u := range b.Uses {
			when := b.When
			if u.Later {
				when = u.When
			}
			if u.Stock != "" {
				into[u.Stock] = append(into[u.Stock], step{b.ID, u.Later, when})
			}
		}
	}
	for _, steps := range into {
		slices.SortStableFunc(steps, func(a, b step) int { return strings.Compare(a.into, b.into) })
	}
	return into
}

// over is the reach of what a step leads to. What was taken before it can have
// been there carries nothing. A batch made from something holds it from its own
// beginning, whatever date that has; a top-up brings it on its day.
func (r held) over(s step) (held, bool) {
	if r.From.Compare(ended(s.when)) > 0 {
		return held{}, false
	}
	out := held{dawn, dawn}
	if s.later {
		out = held{began(s.when), ended(s.when)}
	}
	if r.By.Compare(began(s.when)) > 0 {
		out.By = endOfTime // it may not have been there yet
	}
	return out, true
}

// A tree holds since when everything that its roots went into holds it, and a
// short way there.
type tree map[string]branch

type branch struct {
	held
	before string // empty at a root
	steps  int
}

// spread follows the steps from the roots until nothing is reached earlier or
// more surely. A reach only ever gets earlier, so a circle ends.
func spread(into map[string][]step, roots map[string]held) tree {
	t := tree{}
	order := slices.Sorted(maps.Keys(roots))
	for _, root := range order {
		t[root] = branch{held: roots[root]}
	}
	for i := 0; i < len(order); i++ {
		id := order[i]
		for _, s := range into[id] {
			if t.take(id, s) {
				order = append(order, s.into)
			}
		}
	}
	return t
}

// take takes a step, and tells whether it led anywhere new.
func (t tree) take(from string, s step) bool {
	r, ok := t[from].over(s)
	if !ok {
		return false
	}
	known, seen := t[s.into]
	if !seen {
		t[s.into] = branch{r, from, t[from].steps + 1}
		return true
	}
	if better := known.or(r); better != known.held {
		if r.By.Compare(known.By) < 0 && !slices.Contains(t.wayTo(from), s.into) { // the surer way is the one to show
			known.before, known.steps = from, t[from].steps+1
		}
		known.held = better
		t[s.into] = known
		return true
	}
	return false
}

// shortestTo gives the shortest way to anything that a treatment used when that
// certainly held it, and when it may have; nil if there is none.
func (t tree) shortestTo(user User) (certain, possible []string) {
	sure, maybe := "", ""
	for _, u := range user.Uses {
		at, ok := t[u.Stock]
		if !ok || u.Stock == "" || ended(user.When).Compare(at.From) < 0 {
			continue
		}
		if at.By.Compare(began(user.When)) <= 0 && (sure == "" || at.steps < t[sure].steps) {
			sure = u.Stock
		}
		if maybe == "" || at.steps < t[maybe].steps {
			maybe = u.Stock
		}
	}
	return t.wayTo(sure), t.wayTo(maybe)
}

// wayTo gives the way from a root; nil to nothing.
func (t tree) wayTo(id string) []string {
	var way []string
	for ; id != "" && !slices.Contains(way, id); id = t[id].before {
		way = append(way, id)
	}
	slices.Reverse(way)
	return way
}
