package stock

import (
	"maps"
	"slices"
	"strings"

	"meniscus/internal/edtf"
)

// dawn is before every date.
var dawn = edtf.Day{Year: -10000, Month: 1, Day: 1}

// began and ended are the bounds of a period; an unknown bound is dawn or
// endOfTime.
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

// A step is something that went into a batch, when the batch was made or later.
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

// over is since when the target of a step holds what is traced; false if the step
// happened before it can have been there. A batch holds its inputs from its own
// making; a top-up brings it on its day.
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
type tree struct {
	into   map[string][]step
	roots  map[string]held
	held   map[string]held
	before map[string]branch
	looked int // how many steps were looked at
}

type branch struct {
	from  string // empty at a root
	steps int
}

// spread follows the steps from the roots until nothing is reached earlier or
// more surely, and then finds a way to each thing that was reached.
func spread(into map[string][]step, roots map[string]held) *tree {
	t := &tree{into: into, roots: roots, held: maps.Clone(roots), before: map[string]branch{}}
	t.reach()
	t.findWays()
	return t
}

// reach follows the steps. A step carries nothing, a possible holding or a
// certain one. A holding only ever gets earlier, so that each step is taken twice
// at most, and a circle ends.
func (t *tree) reach() {
	queue := slices.Sorted(maps.Keys(t.roots))
	waiting := map[string]*outgoing{}
	for i := 0; i < len(queue); i++ {
		id := queue[i]
		if waiting[id] == nil {
			waiting[id] = outgoingOf(t.into[id])
		}
		for _, s := range waiting[id].open(t.held[id]) {
			t.looked++
			r, ok := t.held[id].over(s)
			if !ok {
				continue
			}
			known, seen := t.held[s.into]
			if better := known.or(r); !seen {
				t.held[s.into] = r
			} else if better != known {
				t.held[s.into] = better
			} else {
				continue
			}
			queue = append(queue, s.into)
		}
	}
}

// outgoing are the steps from one thing that may still carry more than before.
type outgoing struct {
	steps    []step
	possible []int // by the end of their time, the latest last
	certain  []int // by its beginning, the latest last
}

func outgoingOf(steps []step) *outgoing {
	o := &outgoing{steps: steps}
	for i := range steps {
		o.possible, o.certain = append(o.possible, i), append(o.certain, i)
	}
	slices.SortStableFunc(o.possible, func(a, b int) int { return ended(steps[a].when).Compare(ended(steps[b].when)) })
	slices.SortStableFunc(o.certain, func(a, b int) int { return began(steps[a].when).Compare(began(steps[b].when)) })
	return o
}

// open takes out, in their order, the steps that now carry something for the first
// time, or for the first time with certainty.
func (o *outgoing) open(r held) []step {
	var found []int
	for n := len(o.possible); n > 0 && r.From.Compare(ended(o.steps[o.possible[n-1]].when)) <= 0; n-- {
		found, o.possible = append(found, o.possible[n-1]), o.possible[:n-1]
	}
	for n := len(o.certain); n > 0 && r.By.Compare(began(o.steps[o.certain[n-1]].when)) <= 0; n-- {
		found, o.certain = append(found, o.certain[n-1]), o.certain[:n-1]
	}
	slices.Sort(found)
	steps := make([]step, 0, len(found))
	for _, i := range slices.Compact(found) {
		steps = append(steps, o.steps[i])
	}
	return steps
}

// findWays finds a short way to each thing that was reached: first only over
// steps that reach it with its own certainty; then over any steps, for what is
// left because such steps lead to it only in a circle.
func (t *tree) findWays() {
	all := slices.Sorted(maps.Keys(t.roots))
	surest := func(id string, r held) bool { return r.By == t.held[id].By }
	var order []string
	for _, root := range all {
		if surest(root, t.roots[root]) {
			order = t.arrive(order, "", root)
		}
	}
	order = t.follow(order, surest)
	for _, root := range all {
		order = t.arrive(order, "", root)
	}
	t.follow(order, func(string, held) bool { return true })
}

func (t *tree) arrive(order []string, from, id string) []string {
	if _, there := t.before[id]; there {
		return order
	}
	at := branch{from: from}
	if from != "" {
		at.steps = t.before[from].steps + 1
	}
	t.before[id] = at
	return append(order, id)
}

// follow goes breadth first from what was reached.
func (t *tree) follow(order []string, wanted func(string, held) bool) []string {
	for i := 0; i < len(order); i++ {
		id := order[i]
		for _, s := range t.into[id] {
			t.looked++
			if r, ok := t.held[id].over(s); ok && wanted(s.into, r) {
				order = t.arrive(order, id, s.into)
			}
		}
	}
	return order
}

// nearest gives what a treatment used that is the fewest steps away: first of what
// certainly held the subject, then of all that may have; empty if there is none.
func (t *tree) nearest(user User) (certain, possible string) {
	for _, u := range user.Uses {
		at, ok := t.held[u.Stock]
		if !ok || u.Stock == "" || ended(user.When).Compare(at.From) < 0 {
			continue
		}
		steps := t.before[u.Stock].steps
		if at.By.Compare(began(user.When)) <= 0 && (certain == "" || steps < t.before[certain].steps) {
			certain = u.Stock
		}
		if possible == "" || steps < t.before[possible].steps {
			possible = u.Stock
		}
	}
	return certain, possible
}

// wayTo gives the way from a root.
func (t *tree) wayTo(id string) []string {
	way := make([]string, 0, t.before[id].steps+1)
	for ; id != ""; id = t.before[id].from {
		way = append(way, id)
	}
	slices.Reverse(way)
	return way
}
