package stock

import (
	"slices"

	"meniscus/internal/edtf"
)

// A Subject is the supply or batch whose traces are sought.
type Subject struct {
	ID string
	// Materials are what it holds: whoever names one of them, and no supply or
	// batch, may have used it.
	Materials []string
	// Window is when it can have been used: from its arrival or making to its
	// end, without limit where that is not known.
	Window edtf.Period
}

// A Use is what a treatment used or what went into a batch, said in one way.
type Use struct {
	// Stock is the supply or batch, if it is recorded.
	Stock string
	// Materials are those that are named, where no supply or batch is.
	Materials []string
	// Words tells that only somebody's words are there; Candidates are the
	// materials that they may mean.
	Words      bool
	Candidates []string
}

// A User is a treatment or a batch, when it was carried out or made, and what
// it used.
type User struct {
	ID   string
	When edtf.Period
	Uses []Use
}

// A Trace is one treatment that the subject reached or may have reached.
type Trace struct {
	Treatment string
	// Through leads to what was used: from the subject if the trace is certain,
	// otherwise from the first batch that may hold it. It is empty if the
	// treatment itself names the material.
	Through []string
	Because string
}

// WhereUsed is the three lists. A treatment stands in one of them only: the
// first that applies.
type WhereUsed struct {
	Certain, Possible, CannotBeExcluded []Trace
}

// FindWhereUsed follows a supply or batch to the treatments that it reached:
// certainly, if the record leads there; possibly, if on the way its material is
// named without a supply or batch, and the dates fit; and it cannot be excluded
// if on the way there are only words that may mean its material, or that nobody
// has read, and the dates fit. The lists are in the order of the treatments.
func FindWhereUsed(subject Subject, batches, treatments []User) WhereUsed {
	into := map[string][]string{}
	for _, b := range batches {
		for _, u := range b.Uses {
			if u.Stock != "" {
				into[u.Stock] = append(into[u.Stock], b.ID)
			}
		}
	}
	certain := spread(into, []string{subject.ID})
	possible := spread(into, subject.among(batches, subject.named))
	open := spread(into, subject.among(batches, subject.notExcluded))

	var out WhereUsed
	for _, t := range treatments {
		fits := subject.Window.Overlaps(t.When)
		if way := certain.shortestTo(t); way != nil {
			out.Certain = append(out.Certain, Trace{t.ID, way, "The record leads there."})
		} else if fits && slices.ContainsFunc(t.Uses, subject.named) {
			out.Possible = append(out.Possible, Trace{t.ID, nil, "The material and the dates fit, and no batch is recorded."})
		} else if way := possible.shortestTo(t); way != nil {
			out.Possible = append(out.Possible, Trace{t.ID, way, "A batch on the way names the material and no supply, and the dates fit."})
		} else if fits && slices.ContainsFunc(t.Uses, subject.notExcluded) {
			out.CannotBeExcluded = append(out.CannotBeExcluded, Trace{t.ID, nil, "The words on record may mean this material, and the dates fit."})
		} else if way := open.shortestTo(t); way != nil {
			out.CannotBeExcluded = append(out.CannotBeExcluded, Trace{t.ID, way, "The words on record of a batch on the way may mean this material, and the dates fit."})
		}
	}
	return out
}

// among gives the batches that were made within the window with a use of this
// sort; the subject is not among them.
func (s Subject) among(batches []User, sort func(Use) bool) []string {
	var ids []string
	for _, b := range batches {
		if b.ID != s.ID && s.Window.Overlaps(b.When) && slices.ContainsFunc(b.Uses, sort) {
			ids = append(ids, b.ID)
		}
	}
	return ids
}

func (s Subject) named(u Use) bool {
	return u.Stock == "" && !u.Words && slices.ContainsFunc(u.Materials, s.holds)
}

// notExcluded tells whether words may mean what the subject holds; words that
// nobody has read may mean anything.
func (s Subject) notExcluded(u Use) bool {
	return u.Stock == "" && u.Words && (len(u.Candidates) == 0 || slices.ContainsFunc(u.Candidates, s.holds))
}

func (s Subject) holds(material string) bool { return slices.Contains(s.Materials, material) }

// A tree holds a shortest way to everything that its roots went into.
type tree map[string]branch

type branch struct {
	before string // empty at a root
	steps  int
}

func spread(into map[string][]string, roots []string) tree {
	t := tree{}
	order := slices.Sorted(slices.Values(roots))
	for _, root := range order {
		t[root] = branch{}
	}
	for i := 0; i < len(order); i++ {
		id := order[i]
		for _, to := range slices.Sorted(slices.Values(into[id])) {
			if _, seen := t[to]; !seen {
				t[to] = branch{id, t[id].steps + 1}
				order = append(order, to)
			}
		}
	}
	return t
}

// shortestTo gives the shortest way to anything that a treatment used, or nil.
func (t tree) shortestTo(user User) []string {
	best, found := "", false
	for _, u := range user.Uses {
		at, ok := t[u.Stock]
		if ok && u.Stock != "" && (!found || at.steps < t[best].steps) {
			best, found = u.Stock, true
		}
	}
	if !found {
		return nil
	}
	return t.wayTo(best)
}

func (t tree) wayTo(id string) []string {
	var way []string
	for ; id != ""; id = t[id].before {
		way = append(way, id)
	}
	slices.Reverse(way)
	return way
}
