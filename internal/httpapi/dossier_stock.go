package httpapi

import (
	"slices"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/postgres"
	"meniscus/internal/publish"
	"meniscus/internal/quantity"
	"meniscus/internal/record"
	"meniscus/internal/shelf"
	"meniscus/internal/solution"
	"meniscus/internal/stock"
)

// stockLink names a batch or supply by its code.
func (d *dossier) stockLink(id uuid.UUID, kind record.Kind) publish.Link {
	link := publish.Link{IRI: d.base.Supply(id), Label: string(kind) + " " + id.String()}
	if kind == record.KindBatch {
		link.IRI = d.base.Batch(id)
	}
	switch st := d.statements[id].(type) {
	case *api.BatchStatement:
		link.Label = st.Code
	case *api.SupplyStatement:
		link.Label = st.Code
	}
	return link
}

func (d *dossier) materialLink(id string) publish.Link {
	link := publish.Link{IRI: d.base.Material(id), Label: id}
	if m, ok := d.materials.Material(id); ok {
		link.Label = m.Name
	}
	return link
}

// contents are what a batch holds, followed through everything that it was made
// from.
type contents struct {
	solids   []publish.Link
	solvents []publish.Link
}

func (x *contents) take(other contents, solvent bool) {
	if solvent {
		x.solvents = merged(x.solvents, append(other.solids, other.solvents...))
		return
	}
	x.solids = merged(x.solids, other.solids)
	x.solvents = merged(x.solvents, other.solvents)
}

func merged(list, more []publish.Link) []publish.Link {
	for _, l := range more {
		if !slices.Contains(list, l) {
			list = append(list, l)
		}
	}
	return list
}

// contentsOf follows a batch or supply down to materials; a circle in the record
// ends where it began.
func (d *dossier) contentsOf(id uuid.UUID, seen map[uuid.UUID]bool) contents {
	if seen[id] {
		return contents{}
	}
	seen[id] = true
	var x contents
	switch st := d.statements[id].(type) {
	case *api.SupplyStatement:
		x.solids = []publish.Link{d.materialLink(st.Material.Id)}
	case *api.BatchStatement:
		for _, in := range deref(st.Inputs) {
			x.take(d.contentsOfInput(in.From, seen), in.Part == "solvent")
		}
		for _, share := range deref(st.Solvents) {
			x.solvents = merged(x.solvents, []publish.Link{d.materialLink(share.Id)})
		}
	}
	return x
}

func (d *dossier) contentsOfInput(from api.BatchInputFrom, seen map[uuid.UUID]bool) contents {
	switch {
	case from.Batch != nil:
		return d.contentsOf(from.Batch.Id, seen)
	case from.Supply != nil:
		return d.contentsOf(from.Supply.Id, seen)
	case from.Material != nil:
		return contents{solids: []publish.Link{d.materialLink(from.Material.Id)}}
	case from.Words != nil:
		return contents{solids: []publish.Link{{Label: "“" + from.Words.Verbatim + "”"}}}
	}
	return contents{}
}

// strengthOfBatch is what comes of the amounts that went in; where they are not
// all known, what the label says; else what the recipe asked for. A bottle has
// the strength of what it was filled from.
func (d *dossier) strengthOfBatch(id uuid.UUID) publish.Strength {
	known, ok := d.strengths[id]
	if !ok {
		known = d.findStrength(id, mostRounds)
		d.strengths[id] = known
	}
	return known
}

func (d *dossier) findStrength(id uuid.UUID, steps int) publish.Strength {
	st, ok := d.statements[id].(*api.BatchStatement)
	if !ok || steps == 0 {
		return publish.Strength{}
	}
	inputs := deref(st.Inputs)
	if st.Kind == "bottle" && len(inputs) == 1 && inputs[0].From.Batch != nil && st.LabelStrength == nil && d.asMade(inputs[0].From.Batch.Id) {
		return d.findStrength(inputs[0].From.Batch.Id, steps-1)
	}
	if st.LabelStrength != nil && !allMeasured(inputs) {
		return strengthOf(st.LabelStrength)
	}
	if s := computedOf(d.shelf.Stock().Contents(id.String())); !s.IsZero() {
		return s
	}
	if st.LabelStrength == nil && st.Recipe != nil && st.Recipe.Strength != nil {
		s := strengthOf(st.Recipe.Strength)
		s.Asked = true
		return s
	}
	return strengthOf(st.LabelStrength)
}

// asMade tells whether a batch never changed in strength, as far as is known: a
// bottle of it then has the strength that its label or its recipe says.
func (d *dossier) asMade(batch uuid.UUID) bool {
	return !slices.ContainsFunc(d.shelf.Stock().Events(batch.String()), stock.Event.ChangesStrength)
}

// allMeasured tells whether every amount that went in is known.
func allMeasured(inputs []api.BatchInput) bool {
	return len(inputs) > 0 && !slices.ContainsFunc(inputs, func(in api.BatchInput) bool { return in.Amount.Quantity == nil })
}

// computedOf is the strength of a mixture by volume of solution, else by mass,
// to three significant digits; it is zero where there is none.
func computedOf(held stock.Contents) publish.Strength {
	if held.Mixture == nil {
		return publish.Strength{}
	}
	for _, basis := range []solution.Basis{solution.MassPerSolutionVolume, solution.MassFraction} {
		if v := held.Mixture.On(basis); v.Answered() && v.Value > 0 {
			return publish.Strength{Basis: string(basis), Value: quantity.Digits(v.Value, 3), Unit: string(v.Unit), Computed: true}
		}
	}
	return publish.Strength{}
}

// onShelf is what is on record of the batches in a dossier, and of what became of
// them.
func (d *dossier) onShelf(s *Server, c *call) (*shelf.Shelf, error) {
	var batches []uuid.UUID
	for id, st := range d.statements {
		if _, ok := st.(*api.BatchStatement); ok {
			batches = append(batches, id)
		}
	}
	if len(batches) == 0 {
		return shelf.Read(d.materials, postgres.Shelf{}), nil
	}
	return s.shelf(c, batches)
}

func strengthOf(s *api.Strength) publish.Strength {
	if s == nil {
		return publish.Strength{}
	}
	out := publish.Strength{Basis: string(s.Basis), Unit: deref(s.Unit), Product: deref(s.Product)}
	if s.Value != nil {
		out.Value = s.Value.String()
	}
	if s.In != nil {
		out.In = s.In.String()
	}
	for _, part := range deref(s.Parts) {
		out.Parts = append(out.Parts, part.String())
	}
	return out
}

// batchesBelow are the batches and supplies that a treatment used, with all that
// they were made from.
func (d *dossier) batchesBelow(uses []api.TreatmentUse) []publish.Batch {
	var list []publish.Batch
	seen := map[uuid.UUID]bool{}
	var follow func(id uuid.UUID)
	follow = func(id uuid.UUID) {
		if id == uuid.Nil || seen[id] {
			return
		}
		seen[id] = true
		b := d.batch(id)
		list = append(list, b)
		if st, ok := d.statements[id].(*api.BatchStatement); ok {
			for _, in := range deref(st.Inputs) {
				follow(refID(in.From.Batch))
				follow(refID(in.From.Supply))
			}
		}
	}
	for _, use := range uses {
		follow(refID(use.Used.Batch))
		follow(refID(use.Used.Supply))
	}
	return list
}

// batch is a batch or supply as it is published.
func (d *dossier) batch(id uuid.UUID) publish.Batch {
	b := publish.Batch{Link: d.stockLink(id, d.rows[id].Kind), Supply: d.rows[id].Kind == record.KindSupply,
		Materials: d.contentsOf(id, map[uuid.UUID]bool{}).solids, Strength: d.strengthOfBatch(id)}
	st, ok := d.statements[id].(*api.BatchStatement)
	if !ok {
		return b
	}
	b.Made, b.MadeBy = dateOf(st.Made), d.involvements(deref(st.MadeBy))
	for _, in := range deref(st.Inputs) {
		b.Inputs = append(b.Inputs, d.input(in))
	}
	return b
}

func (d *dossier) input(in api.BatchInput) publish.Input {
	out := publish.Input{Part: string(in.Part), Amount: quantityOf(&in.Amount)}
	switch from := in.From; {
	case from.Batch != nil:
		out.From, out.Recorded = d.stockLink(from.Batch.Id, record.KindBatch), true
	case from.Supply != nil:
		out.From, out.Recorded = d.stockLink(from.Supply.Id, record.KindSupply), true
	case from.Material != nil:
		out.From = d.materialLink(from.Material.Id)
	case from.Words != nil:
		out.From = publish.Link{Label: "“" + from.Words.Verbatim + "”"}
	}
	return out
}
