package stock

import (
	"fmt"

	"meniscus/internal/record"
	"meniscus/internal/solution"
)

// Held is what a batch held when a record used it: a treatment, a batch that was
// filled from it, or an entry that topped another up with it.
type Held struct {
	// Parts are what had gone in, through all batches that it was made from; the
	// solvents that a finished batch names stand before its inputs. One material may
	// be listed several times, if its details differ.
	Parts []Part
	// More is how many parts there are beyond the 500 that are listed; the rest is
	// then open.
	More int
	// Open says that something in it cannot be followed.
	Open bool
	// ReferenceSample says where a sample of it is kept, or of what it was made from.
	ReferenceSample string
	Strength        Strength
}

// Part is one thing that had gone in: a material with its grade, or words.
type Part struct {
	record.Used
	// Solvent says that it was named as a solvent of a finished batch.
	Solvent bool
	// Fraction is its share of the liquids of the batch that was used, zero where
	// unknown; By is what it is a share of.
	Fraction float64
	By       solution.ShareBy
	// Possible says that the dates leave open whether it had gone in.
	Possible bool
}

// Held is what a batch held when a record used it.
func (k *Book) Held(batch record.Ref, by string) Held {
	w := newWalk(k)
	w.batch(k.at(batch, by), stance{whole: true})
	w.found.Strength = k.Strength(batch, by)
	if made := k.Shelf().At(batch.String(), by).Mixture; made != nil {
		w.found.share(made)
	}
	return w.found
}

// InSupply is what a supply holds.
func (k *Book) InSupply(supply record.Ref) Held {
	w := newWalk(k)
	w.supply(supply, stance{})
	return w.found
}

// share gives the liquids their shares by mass, where none were named.
func (h *Held) share(m *solution.Mixture) {
	grams, whole := map[string]float64{}, 0.0
	for _, part := range m.Parts {
		if part.Phase == solution.Liquid && !part.Dissolved {
			grams[part.ID], whole = part.Grams, whole+part.Grams
		}
	}
	for i, p := range h.Parts {
		if p.Fraction == 0 && grams[p.Material] > 0 && grams[p.Material] < whole {
			h.Parts[i].Fraction, h.Parts[i].By = grams[p.Material]/whole, solution.ByMass
		}
	}
}

// occasion is a batch when a record used it or took of it.
type occasion struct {
	batch record.Ref
	by    string
}

// at is the occasion on which a record used a batch. A batch that never changed has
// one occasion.
func (k *Book) at(batch record.Ref, by string) occasion {
	if !k.Shelf().CanHaveChanged(batch.String()) {
		by = AsMade
	}
	return occasion{batch, by}
}

// stance is the relation of what is found to the batch that was used.
type stance struct {
	whole    bool // it is all that is in it
	possible bool
}

// walk follows a batch to all that had gone in. It looks at each batch once for
// each moment and certainty, and at a batch's inputs once for each certainty.
type walk struct {
	book   *Book
	under  map[visited]bool // false once all of it was taken
	inputs map[visited]bool
	added  map[string]bool // false once all of it was taken
	parts  map[partKey]bool
	looked int
	found  Held
}

// visited is a batch at a moment that was looked at as one that was certainly used,
// or as one that may have been.
type visited struct {
	occasion
	possible bool
}

// mostParts is how many parts are listed.
const mostParts = 500

func newWalk(k *Book) *walk {
	return &walk{book: k, under: map[visited]bool{}, inputs: map[visited]bool{},
		added: map[string]bool{}, parts: map[partKey]bool{}}
}

// batch takes what had gone into a batch when a record used it. An input that
// cannot be followed, or a circle, leaves the rest open.
func (w *walk) batch(at occasion, as stance) {
	here := visited{at, as.possible}
	b := w.book.Batches[at.batch]
	under, met := w.under[here]
	if b == nil || under {
		w.found.Open = true
	}
	if b == nil || met {
		return
	}
	w.under[here] = true
	if w.found.ReferenceSample == "" {
		w.found.ReferenceSample = b.ReferenceSample.Value
	}
	in := w.book.Shelf().At(at.batch.String(), at.by)
	as.whole = as.whole && !in.Changed
	w.madeOf(b, at, as)
	w.toppedUp(in.Added, at, as)
	w.under[here] = false
}

// madeOf takes what a batch was made from, which is the same at each moment.
func (w *walk) madeOf(b *record.Batch, at occasion, as stance) {
	w.found.Open = w.found.Open || w.book.Shelf().InCircle(at.batch.String())
	made := visited{occasion{at.batch, AsMade}, as.possible}
	if w.inputs[made] {
		return
	}
	w.inputs[made] = true
	w.solvents(b, as)
	as.whole = as.whole && len(b.Inputs.Value) == 1
	for _, input := range b.Inputs.Value {
		w.looked++
		w.from(input.Used, at.batch.String(), input.Part == "solvent", as)
	}
}

// toppedUp takes what was added to a batch until then, each entry once.
func (w *walk) toppedUp(added []Addition, at occasion, as stance) {
	for _, a := range added {
		w.looked++
		with, said := w.book.with[a.ID]
		if !said {
			w.found.Open = true
			continue
		}
		possible := as.possible || !a.Certain
		key := fmt.Sprint(a.ID, possible)
		under, met := w.added[key]
		w.found.Open = w.found.Open || under
		if !met {
			w.added[key] = true
			w.from(with, a.ID, false, stance{possible: possible})
			w.added[key] = false
		}
	}
}

// partKey is what makes two parts the same.
type partKey struct {
	material, grade   string
	words             string // with their certainty and candidates
	solvent, possible bool
	fraction          float64
	by                solution.ShareBy
}

// take takes a part, once.
func (w *walk) take(p Part) {
	key := partKey{material: p.Material, grade: p.Grade, solvent: p.Solvent,
		possible: p.Possible, fraction: p.Fraction, by: p.By}
	if p.Words != "" {
		key.words = fmt.Sprintf("%q %s %q", p.Words, p.Certainty, p.Candidates)
	}
	switch {
	case w.parts[key]:
	case len(w.found.Parts) == mostParts:
		w.parts[key] = true
		w.found.More++
		w.found.Open = true
	default:
		w.parts[key] = true
		w.found.Parts = append(w.found.Parts, p)
	}
}

// solvents takes the solvents that a finished batch names. Their shares hold for
// what was used only if it is all of this batch, as it was made.
func (w *walk) solvents(b *record.Batch, as stance) {
	for _, share := range b.Solvents.Value {
		p := Part{Used: record.Used{Material: share.Material}, Solvent: true, Possible: as.possible}
		if as.whole && share.Fraction != nil {
			p.Fraction, p.By = share.Fraction.Float64(), solution.ShareBy(share.By)
		}
		w.take(p)
	}
}

func (w *walk) from(from record.Used, entry string, solvent bool, as stance) {
	switch {
	case from.Supply != (record.Ref{}):
		w.supply(from.Supply, as)
	case from.Batch != (record.Ref{}):
		w.batch(w.book.at(from.Batch, entry), as)
	case from.Words != "" && solvent:
		w.found.Open = true
	default:
		w.take(Part{Used: from, Possible: as.possible})
	}
}

func (w *walk) supply(id record.Ref, as stance) {
	s := w.book.Supplies[id]
	if s == nil || s.Material == "" {
		w.found.Open = true
		return
	}
	used := record.Used{Material: s.Material, Grade: s.Grade, Certainty: record.Documented}
	w.take(Part{Used: used, Possible: as.possible})
}
