package dossier

import (
	"cmp"
	"slices"

	"github.com/google/uuid"

	"meniscus/internal/graph"
	"meniscus/internal/publish"
	"meniscus/internal/record"
)

// contents are what a batch holds, through its whole lineage.
type contents struct{ solids, solvents distinctLinks }

// mostContents is the most solids, and the most solvents, that are listed of one batch.
const mostContents = 100

// A holding is the solids of a supply or batch, or its solvents. An input that is
// a solvent adds all that it holds to the solvents; any other adds its solids to
// the solids.
type holding struct {
	of      uuid.UUID
	solvent bool
}

// contentsOf is what a supply or batch holds. It is found for all of them at once,
// each after its inputs; batches that were made from each other in a circle hold
// the same.
func (d *Dossier) contentsOf(id uuid.UUID) contents {
	if d.contents == nil {
		d.contents = d.allContents()
	}
	return contents{*d.held(holding{id, false}), *d.held(holding{id, true})}
}

// held is a holding as far as it is known.
func (d *Dossier) held(p holding) *distinctLinks {
	if x, known := d.contents[p]; known {
		return x
	}
	return new(distinctLinks)
}

func (d *Dossier) allContents() map[holding]*distinctLinks {
	var ids []uuid.UUID
	for id, e := range d.entries {
		if e.Value != nil {
			ids = append(ids, id)
		}
	}
	slices.SortFunc(ids, byID)
	number := make(map[holding]int, 2*len(ids))
	portions := make([]holding, 0, 2*len(ids))
	for _, id := range ids {
		for _, p := range []holding{{id, false}, {id, true}} {
			number[p] = len(portions)
			portions = append(portions, p)
		}
	}
	next := make([][]int, len(portions))
	for i, p := range portions {
		d.eachPart(p, func(from holding) {
			if to, known := number[from]; known {
				next[i] = append(next[i], to)
			}
		}, func(publish.Link) {})
	}
	out := make(map[holding]*distinctLinks, len(portions))
	for _, group := range graph.Components(next) {
		x := new(distinctLinks)
		slices.Sort(group)
		for _, i := range group {
			out[portions[i]] = nil // not itself
		}
		for _, i := range group {
			d.eachPart(portions[i], func(from holding) {
				if held := out[from]; held != nil {
					x.add(held.list...)
					x.cut = x.cut || held.cut
				}
			}, func(l publish.Link) { x.add(l) })
		}
		for _, i := range group {
			out[portions[i]] = x
		}
	}
	return out
}

// eachPart goes through what a holding is made of, in the order of the record.
func (d *Dossier) eachPart(p holding, from func(holding), named func(publish.Link)) {
	switch said := d.entries[p.of].Value.(type) {
	case *record.Supply:
		if !p.solvent {
			named(d.materialLink(said.Material))
		}
	case *record.Batch:
		for _, in := range said.Inputs.Value {
			d.eachPartOf(in, p.solvent, from, named)
		}
		if p.solvent {
			for _, share := range said.Solvents.Value {
				named(d.materialLink(share.Material))
			}
		}
	}
}

func (d *Dossier) eachPartOf(in record.Input, solvent bool, from func(holding), named func(publish.Link)) {
	asSolvent := in.Part == "solvent"
	id := cmp.Or(in.Batch, in.Supply)
	switch {
	case id != uuid.Nil:
		if asSolvent == solvent {
			from(holding{id, false})
		}
		if solvent {
			from(holding{id, true})
		}
	case asSolvent != solvent:
	case in.Material != "":
		named(d.materialLink(in.Material))
	default:
		named(publish.Link{Label: "“" + in.Words + "”"})
	}
}
