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

// strengthOfBatch is how strong a batch was when a record used it, computed to
// three significant digits; it is zero where nobody knows.
func (d *dossier) strengthOfBatch(id uuid.UUID, record string) publish.Strength {
	s := d.shelf.Strength(id, record)
	switch {
	case s.Said != nil:
		out := strengthOf(s.Said)
		out.Asked = s.Origin == shelf.Asked
		return out
	case s.Basis != "":
		return publish.Strength{Basis: string(s.Basis), Value: quantity.Digits(s.Computed.Value, 3), Unit: string(s.Basis.Unit()), Computed: s.Origin == shelf.Weighed}
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
		Materials: d.contentsOf(id, map[uuid.UUID]bool{}).solids, Strength: d.strengthOfBatch(id, stock.AsMade)}
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
