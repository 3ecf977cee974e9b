package shelf

import (
	"github.com/google/uuid"

	"meniscus/internal/record"
	"meniscus/internal/solution"
)

// Held is what a batch held when a record used it: a treatment, a batch that was
// filled from it, or an entry that topped another up with it.
type Held struct {
	// Parts are what had gone in, through all batches that it was made from; the
	// solvents that a finished batch names stand before its inputs. One material may
	// stand there several times.
	Parts []Part
	// Open says that something was in it that cannot be followed.
	Open bool
	// ReferenceSample says where a sample of it is kept, or of what it was made from.
	ReferenceSample string
	Strength        Strength
}

// Part is one thing that had gone in: a material with its grade, or somebody's
// words.
type Part struct {
	record.Used
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
	w := walk{shelf: h, under: map[moment]bool{}}
	w.batch(moment{batch, record}, stance{whole: true})
	w.found.Strength = h.Strength(batch, record)
	if made := h.Stock().At(batch.String(), record).Mixture; made != nil {
		w.found.share(made)
	}
	return w.found
}

// Of is what a supply holds.
func (h *Shelf) Of(supply uuid.UUID) Held {
	w := walk{shelf: h}
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

// moment is a batch when a record used it or took of it.
type moment struct {
	batch  uuid.UUID
	record string
}

// stance is how what is found stands to the batch that was used.
type stance struct {
	whole    bool // it is all that is in it
	possible bool
}

// walk follows a batch to all that had gone in.
type walk struct {
	shelf *Shelf
	under map[moment]bool // false once all of it was taken
	found Held
}

// batch takes what had gone into a batch when a record used it. What cannot be
// followed leaves the rest open, and so does a circle.
func (w *walk) batch(at moment, as stance) {
	b := w.shelf.Batches[at.batch]
	under, met := w.under[at]
	if b == nil || under {
		w.found.Open = true
	}
	if b == nil || met {
		return
	}
	w.under[at] = true
	if w.found.ReferenceSample == "" {
		w.found.ReferenceSample = b.ReferenceSample.Value
	}
	in := w.shelf.Stock().At(at.batch.String(), at.record)
	as.whole = as.whole && !in.Changed
	w.solvents(b, as)
	as.whole = as.whole && len(b.Inputs.Value) == 1
	for _, input := range b.Inputs.Value {
		w.from(input.Used, at.batch.String(), input.Part == "solvent", as)
	}
	for _, added := range in.Added {
		with, said := w.shelf.with[added.ID]
		if !said {
			w.found.Open = true
			continue
		}
		w.from(with, added.ID, false, stance{possible: as.possible || !added.Certain})
	}
	w.under[at] = false
}

// solvents takes the solvents that a finished batch names. Their shares are those
// of what was used only if that is all of this batch, and as it was made.
func (w *walk) solvents(b *record.Batch, as stance) {
	for _, share := range b.Solvents.Value {
		p := Part{Used: record.Used{Material: share.Material}, Solvent: true, Possible: as.possible}
		if as.whole && share.Fraction != nil {
			p.Fraction, p.By = share.Fraction.Float64(), solution.ShareBy(share.By)
		}
		w.found.Parts = append(w.found.Parts, p)
	}
}

func (w *walk) from(from record.Used, entry string, solvent bool, as stance) {
	switch {
	case from.Supply != uuid.Nil:
		w.supply(from.Supply, as)
	case from.Batch != uuid.Nil:
		w.batch(moment{from.Batch, entry}, as)
	case from.Words != "" && solvent:
		w.found.Open = true
	default:
		w.found.Parts = append(w.found.Parts, Part{Used: from, Possible: as.possible})
	}
}

func (w *walk) supply(id uuid.UUID, as stance) {
	s := w.shelf.Supplies[id]
	if s == nil || s.Material == "" {
		w.found.Open = true
		return
	}
	used := record.Used{Material: s.Material, Grade: s.Grade, Certainty: record.Documented}
	w.found.Parts = append(w.found.Parts, Part{Used: used, Possible: as.possible})
}
