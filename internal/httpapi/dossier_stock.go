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
	slices.SortFunc(batches, func(a, b uuid.UUID) int { return slices.Compare(a[:], b[:]) })
	rows, err := s.store.ShelfBehind(c.ctx(), c.principal.Institution, batches)
	if err != nil {
		return nil, err
	}
	return shelf.Read(d.materials, rows), nil
}

// madeFrom reads what supplies and batches were made from, and gives what that
// names.
func (d *dossier) madeFrom(s *Server, c *call, stock []uuid.UUID) ([]uuid.UUID, error) {
	if len(stock) == 0 {
		return nil, nil
	}
	rows, err := s.store.ShelfBehind(c.ctx(), c.principal.Institution, stock)
	if err != nil {
		return nil, err
	}
	var wanted []uuid.UUID
	for _, row := range rows.Made {
		if _, known := d.rows[row.Record]; known {
			continue
		}
		named, err := d.keep(row)
		if err != nil {
			return nil, err
		}
		wanted = append(wanted, named...)
	}
	return wanted, nil
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
// they were made from, but for those that stand below another of the document.
func (d *dossier) batchesBelow(uses []api.TreatmentUse, told map[uuid.UUID]bool) []publish.Batch {
	var list []publish.Batch
	var follow func(id uuid.UUID)
	follow = func(id uuid.UUID) {
		if id == uuid.Nil || told[id] {
			return
		}
		told[id] = true
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
		Materials: d.contentsOf(id).solids.list, Strength: d.strengthOfBatch(id, stock.AsMade)}
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
