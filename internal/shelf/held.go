package shelf

import (
	"fmt"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/solution"
	"meniscus/internal/stock"
)

// Held is what a batch held when a record used it: a treatment, a batch that was
// filled from it, or an entry that topped another up with it.
type Held struct {
	// Parts are what had gone in, through all batches that it was made from; the
	// solvents that a finished batch names stand before its inputs. One material may
	// stand there several times, if something else is said of it each time.
	Parts []Part
	// More is how many parts there are beyond the 500 that are listed; the rest is
	// then open.
	More int
	// Open says that something was in it that cannot be followed.
	Open bool
	// ReferenceSample says where a sample of it is kept, or of what it was made from.
	ReferenceSample string
	Strength        Strength
}

// Part is one thing that had gone in: a material, or somebody's words.
type Part struct {
	Material *api.MaterialUse
	Words    *api.Words
	// Solvent says that it was named as a solvent of a finished batch.
	Solvent bool
	// Fraction is its share of the liquids of the batch that was used, zero where
	// nobody knows; By is what it is a share of.
	Fraction float64
	By       solution.ShareBy
	// Possible says that the dates leave open whether it had gone in.
	Possible bool
}

// At is what a batch held when a record used it.
func (h *Shelf) At(batch uuid.UUID, record string) Held {
	w := newWalk(h)
	w.batch(h.at(batch, record), stance{whole: true})
	w.found.Strength = h.Strength(batch, record)
	if made := h.Stock().At(batch.String(), record).Mixture; made != nil {
		w.found.share(made)
	}
	return w.found
}

// Of is what a supply holds.
func (h *Shelf) Of(supply uuid.UUID) Held {
	w := newWalk(h)
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
		if p.Material != nil && p.Fraction == 0 && grams[p.Material.Id] > 0 && grams[p.Material.Id] < whole {
			h.Parts[i].Fraction, h.Parts[i].By = grams[p.Material.Id]/whole, solution.ByMass
		}
	}
}

// moment is a batch when a record used it or took of it.
type moment struct {
	batch  uuid.UUID
	record string
}

// at is the moment at which a record used a batch. One that never changed was the
// same at every moment.
func (h *Shelf) at(batch uuid.UUID, record string) moment {
	if !h.Stock().CanHaveChanged(batch.String()) {
		record = stock.AsMade
	}
	return moment{batch, record}
}

// stance is how what is found stands to the batch that was used.
type stance struct {
	whole    bool // it is all that is in it
	possible bool
}

// walk follows a batch to all that had gone in. It looks at each batch once for
// each moment, and at what a batch was made from once: a second time only if it may
// not have been in it.
type walk struct {
	shelf  *Shelf
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
	moment
	possible bool
}

// mostParts is how many parts are listed.
const mostParts = 500

func newWalk(h *Shelf) *walk {
	return &walk{shelf: h, under: map[visited]bool{}, inputs: map[visited]bool{}, added: map[string]bool{}, parts: map[partKey]bool{}}
}

// batch takes what had gone into a batch when a record used it. What cannot be
// followed leaves the rest open, and so does a circle.
func (w *walk) batch(at moment, as stance) {
	here := visited{at, as.possible}
	b := w.shelf.Batches[at.batch]
	under, met := w.under[here]
	if b == nil || under {
		w.found.Open = true
	}
	if b == nil || met {
		return
	}
	w.under[here] = true
	if b.ReferenceSample != nil && w.found.ReferenceSample == "" {
		w.found.ReferenceSample = deref(b.ReferenceSample.Text)
	}
	in := w.shelf.Stock().At(at.batch.String(), at.record)
	as.whole = as.whole && !in.Changed
	w.madeOf(b, at, as)
	w.toppedUp(in.Added, at, as)
	w.under[here] = false
}

// madeOf takes what a batch was made from, which is the same at each moment.
func (w *walk) madeOf(b *api.BatchStatement, at moment, as stance) {
	w.found.Open = w.found.Open || w.shelf.Stock().InCircle(at.batch.String())
	made := visited{moment{at.batch, stock.AsMade}, as.possible}
	if w.inputs[made] {
		return
	}
	w.inputs[made] = true
	w.solvents(b, as)
	as.whole = as.whole && len(deref(b.Inputs)) == 1
	for _, input := range deref(b.Inputs) {
		w.looked++
		w.from(input.From, at.batch.String(), input.Part == "solvent", as)
	}
}

// toppedUp takes what was added to a batch until then, each entry once.
func (w *walk) toppedUp(added []stock.Addition, at moment, as stance) {
	for _, a := range added {
		w.looked++
		with, said := w.shelf.with[a.ID]
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
	material, words   string
	solvent, possible bool
	fraction          float64
	by                solution.ShareBy
}

// take takes a part, once.
func (w *walk) take(p Part) {
	key := partKey{solvent: p.Solvent, possible: p.Possible, fraction: p.Fraction, by: p.By}
	if p.Material != nil {
		key.material = p.Material.Id + "\x00" + deref(p.Material.Grade)
	}
	if p.Words != nil {
		key.words = fmt.Sprintf("%q %s %q", p.Words.Verbatim, p.Words.Certainty, deref(p.Words.Candidates))
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

// solvents takes the solvents that a finished batch names. Their shares are those
// of what was used only if that is all of this batch, and as it was made.
func (w *walk) solvents(b *api.BatchStatement, as stance) {
	for _, share := range deref(b.Solvents) {
		p := Part{Material: &api.MaterialUse{Id: share.Id}, Solvent: true, Possible: as.possible}
		if as.whole && share.Fraction != nil {
			p.Fraction, p.By = share.Fraction.Float64(), solution.ShareBy(deref(share.FractionBy))
		}
		w.take(p)
	}
}

func (w *walk) from(from api.BatchInputFrom, record string, solvent bool, as stance) {
	switch {
	case from.Supply != nil:
		w.supply(from.Supply.Id, as)
	case from.Batch != nil:
		w.batch(w.shelf.at(from.Batch.Id, record), as)
	case from.Material != nil:
		w.take(Part{Material: from.Material, Possible: as.possible})
	case from.Words != nil && solvent:
		w.found.Open = true
	case from.Words != nil:
		w.take(Part{Words: from.Words, Possible: as.possible})
	}
}

func (w *walk) supply(id uuid.UUID, as stance) {
	st := w.shelf.Supplies[id]
	if st == nil || st.Material.Id == "" {
		w.found.Open = true
		return
	}
	w.take(Part{Material: &st.Material, Possible: as.possible})
}
