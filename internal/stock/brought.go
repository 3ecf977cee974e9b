package stock

import (
	"slices"

	"meniscus/internal/solution"
)

// Limits of the lists about one batch; what they leave out is counted.
const (
	MostWhy       = 100
	MostMaterials = 500
	MostUnnamed   = 500
)

// Brought is what went into batches through all that they were made from, whether
// or not the amounts are known.
type Brought struct {
	// Materials are the ids of every substance, in order.
	Materials     []string
	MoreMaterials int
	// Unnamed are the words of inputs whose meaning is unknown.
	Unnamed     []string
	MoreUnnamed int
}

// Contents is what a batch holds as it was made.
func (s *Shelf) Contents(id string) Contents {
	s.settle()
	b := s.batches[id]
	if b == nil {
		return Contents{Why: []string{s.notHere()}}
	}
	why := distinct{most: MostWhy}
	s.why(b, &why, map[*shelved]bool{})
	return Contents{Mixture: b.Mixture, ByLabel: b.ByLabel, Why: why.list, MoreWhy: why.more, Brought: s.Brought(id)}
}

// why gathers the reasons why a batch has no mixture, from the batch and its
// ancestors; each is looked at once.
func (s *Shelf) why(b *shelved, out *distinct, seen map[*shelved]bool) {
	if seen[b] {
		return
	}
	seen[b] = true
	for _, r := range b.because {
		s.looked++
		if r.of != nil {
			s.why(r.of, out, seen)
		} else {
			out.add(r.sentence)
		}
	}
}

// Brought is what went into some batches.
func (s *Shelf) Brought(ids ...string) Brought {
	s.settle()
	materials, words := distinct{}, distinct{most: MostUnnamed}
	s.bring(ids, &materials, &words, map[string]bool{})
	slices.Sort(materials.list)
	out := Brought{Materials: materials.list, Unnamed: words.list, MoreUnnamed: words.more}
	if over := len(out.Materials) - MostMaterials; over > 0 {
		out.Materials, out.MoreMaterials = out.Materials[:MostMaterials], over
	}
	return out
}

func (s *Shelf) bring(ids []string, materials, words *distinct, seen map[string]bool) {
	for _, id := range ids {
		s.looked++
		b := s.batches[id]
		if b == nil || seen[id] {
			continue
		}
		seen[id] = true
		for _, id := range b.brings {
			materials.add(id)
		}
		for _, text := range b.words {
			words.add(text)
		}
		s.bring(b.from, materials, words, seen)
	}
}

// gather notes what the inputs of a batch bring in by themselves, and the batches
// among them.
func (b *shelved) gather() {
	for _, in := range b.Inputs {
		switch {
		case in.Batch != "":
			b.from = append(b.from, in.Batch)
		case in.Stock != nil:
			b.brings = append(b.brings, materialsOf(*in.Stock)...)
		default:
			b.words = append(b.words, in.Name)
		}
	}
}

// materialsOf are the substances in a stock: of a product that is supplied as a
// mixture, the parts of the mixture.
func materialsOf(k solution.Stock) []string {
	var ids []string
	eachComponent(k, func(c solution.Component) {
		if len(c.Supplied) == 0 {
			ids = append(ids, c.ID)
		}
	})
	return ids
}

// distinct is a list that holds each text once, and at most a limit of texts; 0
// is no limit.
type distinct struct {
	most int
	list []string
	more int
	seen map[string]bool
}

func (d *distinct) add(text string) {
	if d.seen[text] {
		return
	}
	if d.seen == nil {
		d.seen = map[string]bool{}
	}
	d.seen[text] = true
	if d.most > 0 && len(d.list) == d.most {
		d.more++
		return
	}
	d.list = append(d.list, text)
}
