package stock

import (
	"slices"

	"meniscus/internal/edtf"
)

// A Subject is the supply or batch whose traces are sought.
type Subject struct {
	ID string
	// Materials are what it holds: a record that names one of them, and no supply
	// or batch, may have used it.
	Materials []string
	// Window is when it can have been used: from its arrival or making to its
	// end, without limit where that is not known.
	Window edtf.Period
}

// A Use is what a treatment used or what went into a batch, said in one way.
type Use struct {
	// Stock is the supply or batch, if it is recorded.
	Stock string
	// Materials are those that are named, if no supply or batch is named.
	Materials []string
	// Words are set where they are all that is known; Candidates are the materials
	// that they may mean, empty if not interpreted.
	Words      string
	Candidates []string
	// Later tells that a batch was topped up with it, at When; otherwise it went
	// in when the batch was made.
	Later bool
	When  edtf.Period
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

// WhereUsed is the three lists. A treatment is in one of them only: the first
// that applies.
type WhereUsed struct {
	Certain, Possible, CannotBeExcluded []Trace
	// WaysCut says that not all ways are listed in full.
	WaysCut bool
}

// Limits of the ways, which could have as many steps as batches times treatments.
const (
	// MostSteps is the most steps of one way that are listed.
	MostSteps = 1000
	// MostStepsInAll is the most steps of all ways that are listed; after that
	// only the last step of a way is, which is what the treatment used.
	MostStepsInAll = 100_000
)

// FindWhereUsed follows a supply or batch to the treatments that it reached:
// certainly, if the record leads there; possibly, if on the way its material is
// named without a supply or batch and the dates fit, or a batch on the way was
// topped up with it at a time that may have been later; and it cannot be excluded
// if on the way there are only words that may mean its material, or that are not
// interpreted, and the dates fit. The lists are in the order of the treatments.
func FindWhereUsed(subject Subject, batches, treatments []User) WhereUsed {
	into := intoOf(batches)
	certain := spread(into, map[string]held{subject.ID: {dawn, dawn}})
	possible := spread(into, subject.among(batches, subject.named))
	open := spread(into, subject.among(batches, subject.notExcluded))

	var out WhereUsed
	told := 0
	for _, t := range treatments {
		fits := subject.Window.Overlaps(t.When)
		sure, maybe := certain.nearest(t)
		words := slices.IndexFunc(t.Uses, subject.notExcluded)
		_, named := possible.nearest(t)
		_, said := open.nearest(t)
		list, from, to, because := &out.Possible, possible, "", ""
		switch {
		case sure != "":
			list, from, to, because = &out.Certain, certain, sure, "The lineage says so."
		case maybe != "":
			from, to, because = certain, maybe, "A batch on the way was topped up with it, and the dates do not show whether "+
				"that was before this treatment."
		case fits && slices.ContainsFunc(t.Uses, subject.named):
			because = possibleBecause(t)
		case named != "":
			to, because = named, "A batch on the way names the same material without a supply, and the dates fit."
		case fits && words >= 0:
			list, because = &out.CannotBeExcluded, wordsBecause(t.Uses[words])
		case said != "":
			list, from, to, because = &out.CannotBeExcluded, open, said,
				"The words on record of what went into a batch on the way may mean this material, and the dates fit."
		default:
			continue
		}
		*list = append(*list, Trace{t.ID, out.way(from, to, &told), because})
	}
	return out
}

// way lists the steps to what a treatment used, within the limits.
func (w *WhereUsed) way(t *tree, to string, told *int) []string {
	if to == "" {
		return nil
	}
	steps := t.before[to].steps + 1
	if *told+min(steps, MostSteps) > MostStepsInAll && steps > 1 {
		w.WaysCut = true
		return []string{to}
	}
	way := t.wayTo(to)
	if len(way) > MostSteps {
		w.WaysCut, way = true, way[:MostSteps:MostSteps]
	}
	*told += len(way)
	return way
}

func possibleBecause(t User) string {
	if t.When.To.IsZero() {
		return "The same material is recorded without a batch, and its date is not known well enough to exclude it."
	}
	return "The same material is recorded without a batch, and the dates fit."
}

func wordsBecause(u Use) string {
	if len(u.Candidates) == 0 {
		return "What the words on record, \"" + u.Words + "\", mean is not known."
	}
	return "The words on record, \"" + u.Words + "\", may mean this material."
}

// among gives the batches that a use of this sort went into within the window,
// with when it can have got there; the subject is not among them.
func (s Subject) among(batches []User, sort func(Use) bool) map[string]held {
	roots := map[string]held{}
	for _, b := range batches {
		for _, u := range b.Uses {
			when := b.When
			if u.Later {
				when = u.When
			}
			if b.ID == s.ID || !s.Window.Overlaps(when) || !sort(u) {
				continue
			}
			arrived := held{dawn, dawn}
			if u.Later {
				arrived = held{began(u.When), ended(u.When)}
			}
			if known, ok := roots[b.ID]; ok {
				arrived = known.or(arrived)
			}
			roots[b.ID] = arrived
		}
	}
	return roots
}

func (s Subject) named(u Use) bool {
	return u.Stock == "" && u.Words == "" && slices.ContainsFunc(u.Materials, s.holds)
}

// notExcluded tells whether words may mean what the subject holds; words that are
// not interpreted may mean anything.
func (s Subject) notExcluded(u Use) bool {
	return u.Stock == "" && u.Words != "" && (len(u.Candidates) == 0 || slices.ContainsFunc(u.Candidates, s.holds))
}

func (s Subject) holds(material string) bool { return slices.Contains(s.Materials, material) }
