package dossier

import (
	"github.com/google/uuid"

	"meniscus/internal/publish"
	"meniscus/internal/quantity"
	"meniscus/internal/record"
	"meniscus/internal/solution"
	"meniscus/internal/stock"
)

// stockLink names a batch or supply by its code.
func (d *Dossier) stockLink(id uuid.UUID, kind record.Kind) publish.Link {
	link := publish.Link{IRI: d.base.Supply(id), Label: string(kind) + " " + id.String()}
	if kind == record.KindBatch {
		link.IRI = d.base.Batch(id)
	}
	switch said := d.entries[id].Value.(type) {
	case *record.Batch:
		link.Label = said.Code
	case *record.Supply:
		link.Label = said.Code
	}
	return link
}

func (d *Dossier) materialLink(id string) publish.Link {
	link := publish.Link{IRI: d.base.Material(id), Label: id}
	if m, ok := d.materials.Material(id); ok {
		link.Label = m.Name
	}
	return link
}

// strengthOfBatch is how strong a batch was when a record used it, computed to
// three significant digits; it is zero where unknown.
func (d *Dossier) strengthOfBatch(id uuid.UUID, record string) publish.Strength {
	s := d.book.Strength(id, record)
	switch {
	case s.Said != nil:
		out := publishedStrength(*s.Said)
		out.Asked = s.Origin == stock.FromRecipe
		return out
	case s.Basis != "":
		return publish.Strength{
			Basis: string(s.Basis), Value: quantity.Digits(s.Computed.Value, 3), Unit: string(s.Basis.Unit()),
			Computed: s.Origin == stock.FromAmounts,
		}
	}
	return publish.Strength{}
}

func publishedStrength(s record.Strength) publish.Strength {
	out := publish.Strength{Basis: string(s.Basis), Product: s.Product}
	if s.UnitSaid {
		out.Unit = string(s.Number.Unit)
	}
	switch s.Basis {
	case solution.PartsByVolume, solution.PartsByMass:
		out.Parts = []string{s.Parts[0].String(), s.Parts[1].String()}
	case solution.OneIn:
		out.In = s.Number.Value.String()
	default:
		out.Value = s.Number.Value.String()
	}
	return out
}

// batchesBelow are the batches and supplies that a treatment used, with their
// lineage, except those that the document already lists below another treatment.
func (d *Dossier) batchesBelow(uses []record.Use, told map[uuid.UUID]bool) []publish.Batch {
	var list []publish.Batch
	var follow func(id uuid.UUID)
	follow = func(id uuid.UUID) {
		if id == uuid.Nil || told[id] {
			return
		}
		told[id] = true
		b := d.batch(id)
		list = append(list, b)
		if said, ok := said[*record.Batch](d, id); ok {
			for _, in := range said.Inputs.Value {
				follow(in.Batch)
				follow(in.Supply)
			}
		}
	}
	for _, use := range uses {
		follow(use.Batch)
		follow(use.Supply)
	}
	return list
}

// batch is a batch or supply as it is published.
func (d *Dossier) batch(id uuid.UUID) publish.Batch {
	x := d.contentsOf(id)
	b := publish.Batch{Link: d.stockLink(id, d.entries[id].Kind), Supply: d.entries[id].Kind == record.KindSupply,
		Materials: x.solids.list, Solvents: x.solvents.list, Strength: d.strengthOfBatch(id, stock.AsMade)}
	if says := d.entries[id].Says; says != nil {
		b.Fields = publish.Fields(says(), d.Known())
	}
	said, ok := said[*record.Batch](d, id)
	if !ok {
		return b
	}
	b.Made, b.MadeBy = publishedDate(said.Made), d.involvements(said.People.Value)
	for _, in := range said.Inputs.Value {
		b.Inputs = append(b.Inputs, d.input(in))
	}
	return b
}

func (d *Dossier) input(in record.Input) publish.Input {
	out := publish.Input{Part: in.Part, Amount: publishedQuantity(in.Amount)}
	switch {
	case in.Batch != uuid.Nil:
		out.From, out.Recorded = d.stockLink(in.Batch, record.KindBatch), true
	case in.Supply != uuid.Nil:
		out.From, out.Recorded = d.stockLink(in.Supply, record.KindSupply), true
	case in.Material != "":
		out.From = d.materialLink(in.Material)
	default:
		out.From = publish.Link{Label: "“" + in.Words + "”"}
	}
	return out
}
