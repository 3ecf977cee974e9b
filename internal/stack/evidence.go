package stack

import (
	"cmp"
	"slices"

	"meniscus/internal/bibliography"
	"meniscus/internal/edtf"
	"meniscus/internal/material"
)

// Observed is what a solvent does to a material.
type Observed string

const (
	Dissolves Observed = "dissolves"
	Softens   Observed = "softens"
	Swells    Observed = "swells"
	Whitens   Observed = "whitens"
	Colours   Observed = "colour-on-swab"
	Disputed  Observed = "disputed"
	NotKnown  Observed = "unknown"
	NoEffect  Observed = "no-effect"
)

// gravity orders what was observed, worst first; of rows that disagree the
// worst one counts, and one that leaves the matter open outweighs one that saw
// nothing.
func (o Observed) gravity() int {
	return slices.Index([]Observed{NoEffect, NotKnown, Disputed, Colours, Whitens, Swells, Softens, Dissolves}, o)
}

// disturbs tells whether the layer was seen to change.
func (o Observed) disturbs() bool { return o.gravity() >= Colours.gravity() }

// open tells whether the effect is unknown.
func (o Observed) open() bool { return o == NotKnown || o == Disputed || o == "" }

// Evidence is one thing that an answer rests on.
type Evidence struct {
	// Says is the observation or value in a few words.
	Says string
	// Treatment is the record of a test on this specimen, if it is one.
	Treatment string
	// Sources are where it was read; none for a test.
	Sources Sources
	// Status is a status of the bibliography; "" for a test.
	Status string
	// Date is when it was seen, where that is known.
	Date string

	word   string   // what was seen, or the answer, in one word: others contradict it
	of     string   // the liquid or material that it is about
	latest edtf.Day // the last possible day of a test
}

// tabled tells whether it was read in a table, and not seen on this specimen.
func (e Evidence) tabled() bool { return e.Treatment == "" }

// published tells whether the evidence was read in a source that can be cited.
func (e Evidence) published() bool { return bibliography.Status(e.Status).Seen() }

// Observation is what is known of one liquid on one layer.
type Observation struct {
	Observed Observed
	Backing
	// Tested says that it was seen on this specimen.
	Tested bool
	// WrongAge says that the rows are about another age of film.
	WrongAge bool
	// Ambiguous says that the material is one of several, and that they differ.
	Ambiguous bool
}

// recalledOnly tells whether nothing but memory or common practice supports it.
func (o Observation) recalledOnly() bool {
	return !o.Tested && !o.Backing.published
}

// on gives what is published of one liquid on a material of some age.
//
// The nearest rows decide: those on the liquid itself, then on its classes
// from the narrowest, then on any solvent. Among rows of one nearness the
// worst wins. Rows on fresh films do not decide for old ones: an effect is
// kept and marked, no effect becomes unknown. A row whose source names no
// solvent settles nothing. Results are cached.
func (k knowing) on(ref Ref, solvent string, age Ageing, vapour bool) Observation {
	return k.seen.once(lookedUp{ref, solvent, age, vapour}, func() Observation {
		return k.lookUp(ref, solvent, age, vapour)
	})
}

// effect is what on observes, without the evidence.
func (k knowing) effect(ref Ref, solvent string, age Ageing) Observed {
	return k.seen.effect(lookedUp{ref, solvent, age, false}, func() Observation {
		return k.lookUp(ref, solvent, age, false)
	})
}

func (k knowing) lookUp(ref Ref, solvent string, age Ageing, vapour bool) Observation {
	best := k.read(ref, solvent, age.asked(), vapour)
	if age == Old && (len(best.rows) == 0 || best.byClass) {
		if young := k.read(ref, solvent, material.Fresh, vapour); len(young.rows) > 0 && !young.byClass {
			young.wrongAge = true
			best = young
		}
	}
	return k.observe(best)
}

// reading is the rows about one liquid on one material.
type reading struct {
	rows              []material.SolubilityRow
	byClass, wrongAge bool
}

// read looks up the rows. Where the age is not known, the rows of both ages
// count. A row on a fresh dispersion is about the time before it dried, when it
// was no layer. A material that has no rows of its own is taken as what it is
// made of.
func (k knowing) read(ref Ref, solvent string, age material.Age, vapour bool) reading {
	ages := []material.Age{age}
	switch {
	case k.kind(ref.Material) == material.Dispersion:
		ages = []material.Age{material.Aged}
	case age == material.AnyAge:
		ages = []material.Age{material.Aged, material.Fresh}
	}
	var out reading
	for _, r := range k.expand(ref) {
		for _, a := range ages {
			found := k.Solubility(r.Material, r.Grade, solvent, a)
			out.add(found.Rows)
			if vapour {
				out.add(k.SolubilityInVapour(r.Material, r.Grade, solvent, a).Rows)
			}
			out.byClass = out.byClass || found.ByClass
		}
	}
	return out
}

// add appends the rows that are not there yet.
func (r *reading) add(rows []material.SolubilityRow) {
	for _, row := range rows {
		same := func(x material.SolubilityRow) bool {
			return x.Solvent == row.Solvent && x.Age == row.Age && x.Observed == row.Observed && x.Remark == row.Remark &&
				x.Grade == row.Grade && x.Material == row.Material
		}
		if !slices.ContainsFunc(r.rows, same) {
			r.rows = append(r.rows, row)
		}
	}
}

// expand gives a material, or what it is made of where it has no rows itself.
func (k knowing) expand(ref Ref) []Ref {
	m, ok := k.Material(ref.Material)
	if !ok || len(m.Components) == 0 || len(k.SolubilityRows(ref.Material)) > 0 {
		return []Ref{ref}
	}
	var all []Ref
	for _, c := range m.Components {
		all = append(all, Ref{Material: c.Material})
	}
	return all
}

func (k knowing) observe(r reading) Observation {
	o := Observation{Observed: NotKnown, WrongAge: r.wrongAge}
	var all []Evidence
	for i, row := range r.rows {
		saw := Observed(row.Observed)
		if row.Solvent == "solvent-not-named" {
			saw = NotKnown
		}
		if i == 0 {
			o.Observed = saw
		}
		o.Observed = worse(o.Observed, saw)
		all = append(all, k.cited(row))
	}
	o.Backing = backing(all, string(o.Observed))
	if r.wrongAge && !o.Observed.disturbs() {
		o.Observed = NotKnown
	}
	return o
}

func (k knowing) cited(row material.SolubilityRow) Evidence {
	says := string(row.Observed) + " (" + k.name(row.Solvent)
	if row.Age != material.AnyAge {
		says += ", " + string(row.Age) + " film"
	}
	if row.How == material.VapourContact {
		says += ", as vapour"
	}
	says += ")"
	if row.Remark != "" {
		says += ": " + row.Remark
	}
	e := from(row.Evidence, says)
	e.word, e.of = string(row.Observed), row.Solvent
	return e
}

// from makes evidence of what a table row rests on.
func from(e material.Evidence, says string) Evidence {
	return Evidence{Says: says, Sources: SourcesOf(append([]material.Source{e.Source}, e.Also...)...),
		Status: string(e.Status)}
}

func worse(a, b Observed) Observed {
	if b.gravity() > a.gravity() {
		return b
	}
	return a
}

// onIdentity gives what is known of one liquid on a layer of this identity:
// the worst of what is in it for certain, and the worst of what it may be,
// marked ambiguous where the candidates differ.
func (k knowing) onIdentity(id Identity, solvent string, age Ageing, vapour bool) Observation {
	if !id.Named() {
		return Observation{Observed: NotKnown}
	}
	refs := id.all()
	total := k.on(refs[0], solvent, age, vapour)
	for _, r := range refs[1:] {
		next := k.on(r, solvent, age, vapour)
		differ := next.Observed != total.Observed
		if next.Observed.gravity() > total.Observed.gravity() {
			next, total = total, next
		}
		total.Backing = total.Backing.and(next.Backing, string(total.Observed))
		total.Ambiguous = total.Ambiguous || next.Ambiguous || (differ && len(id.Candidates) > 1)
	}
	return total
}

// Identity is what is known of what a layer is made of.
type Identity struct {
	// Solids are in it for certain.
	Solids []Ref
	// Candidates are what it may be, where it is one of several.
	Candidates []Ref
	Verbatim   string
	Certainty  Certainty
	// Withheld tells that it is on record and not told here.
	Withheld bool
}

// Named tells whether any material is named at all.
func (id Identity) Named() bool { return len(id.Solids)+len(id.Candidates) > 0 }

// Settled tells whether the material is one and not one of several.
func (id Identity) Settled() bool {
	return len(id.Solids) > 0 && len(id.Candidates) == 0 || len(id.Candidates) == 1 && len(id.Solids) == 0
}

// all are the materials that it is or may be.
func (id Identity) all() []Ref { return slices.Concat(id.Solids, id.Candidates) }

// may tells whether it is a material that passes the test (Yes), may be
// (Unknown: one of several, or nothing is named), or is not (No).
func (id Identity) may(is func(Ref) bool) Answer {
	if slices.ContainsFunc(id.Solids, is) {
		return Yes
	}
	hits := 0
	for _, r := range id.Candidates {
		if is(r) {
			hits++
		}
	}
	switch {
	case hits == len(id.Candidates) && hits > 0:
		return Yes
	case hits > 0 || !id.Named():
		return Unknown
	}
	return No
}

// shares tells whether two identities surely name one and the same material.
func (id Identity) shares(other Identity) bool {
	if !id.Settled() || !other.Settled() {
		return false
	}
	for _, a := range id.all() {
		for _, b := range other.all() {
			if a.Material == b.Material && (a.Grade == b.Grade || a.Grade == "" || b.Grade == "") {
				return true
			}
		}
	}
	return false
}

// identify reads what a use was made of.
func identify(u *Use) Identity {
	id := Identity{
		Solids: slices.Clone(u.Solids), Candidates: slices.Clone(u.Candidates),
		Verbatim: u.Verbatim, Certainty: u.Certainty,
	}
	if id.Certainty == "" {
		id.Certainty = Unidentified
		if len(id.Solids) > 0 && u.Verbatim == "" {
			id.Certainty = Documented
		}
	}
	slices.SortFunc(id.Candidates, func(a, b Ref) int {
		return cmp.Or(cmp.Compare(a.Material, b.Material), cmp.Compare(a.Grade, b.Grade))
	})
	return id
}
