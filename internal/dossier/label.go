package dossier

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"github.com/google/uuid"

	"meniscus/internal/label"
	"meniscus/internal/publish"
	"meniscus/internal/record"
	"meniscus/internal/solution"
	"meniscus/internal/stock"
)

// Label is what is on record of a batch for its label. A retracted batch, with
// its reason, is given as it was last stated.
func (d *Dossier) Label(id uuid.UUID, retracted bool, reason string) label.Facts {
	said, known := said[*record.Batch](d, id)
	if !known {
		said = &record.Batch{}
	}
	out := d.labelOf(id, said)
	out.Notices = noticesOf(retracted, reason, known)
	switch said.State {
	case "discarded":
		out.Notices = append(out.Notices, "DISCARDED, as recorded")
	case "spent":
		out.Notices = append(out.Notices, "SPENT, as recorded")
	}
	if retracted {
		out.Strength = label.Strength{Why: "the record was retracted"}
	}
	return out
}

// noticesOf is what comes before what a record says on its label.
func noticesOf(retracted bool, reason string, known bool) []string {
	var out []string
	if retracted {
		out = append(out, strings.TrimSuffix("RETRACTED: "+reason, ": "))
	}
	if !known {
		out = append(out, "The words of this record were redacted")
	}
	return out
}

// labelOf is what the label says of a batch.
func (d *Dossier) labelOf(id uuid.UUID, said *record.Batch) label.Facts {
	f := label.Facts{
		Owner: d.institution, Address: d.base.Batch(id), Code: said.Code, Bottle: said.Type == "bottle",
		Made: said.Made.Value, Expires: said.Expires.Value, By: d.makers(said.People.Value),
		Check: d.clearCheck(said.ClearCheck),
		From:  d.codesOf(said.Inputs.Value),
	}
	names := d.contentsOf(id)
	f.Solids, f.Liquids = labelsOf(names.solids.list), labelsOf(names.solvents.list)
	held := d.book.Shelf().Contents(id.String())
	stated, words := d.statedMaterials(id)
	f.Substances, f.Unnamed = held.Materials, held.Unnamed
	if len(f.Substances) == 0 {
		f.Substances, f.Unnamed = stated, words
	}
	isWords := map[string]bool{}
	for _, text := range words {
		isWords[text] = true
	}
	f.Unnamed = each(f.Unnamed, func(name string) string { return quotedIf(isWords[name], name) })
	for _, share := range said.Solvents.Value {
		f.Substances = append(f.Substances, share.Material)
	}
	d.toppedUp(id, &f)
	slices.Sort(f.Substances)
	f.Substances = slices.Compact(f.Substances)
	if more := held.MoreMaterials; more > 0 {
		f.Unnamed = append(f.Unnamed, fmt.Sprintf("%d more substances", more))
	}
	if more := held.MoreUnnamed; more > 0 {
		f.Unnamed = append(f.Unnamed, fmt.Sprintf("%d more things that are told of in words", more))
	}
	if d.book.More > 0 {
		f.Unnamed = append(f.Unnamed, d.unread())
	}
	f.Strength = d.labelStrength(id, said, held)
	if held.Mixture != nil {
		f.Shares = liquidShares(*held.Mixture, f.Strength.Changed)
	}
	return f
}

// quotedIf puts the words of a record into quotation marks.
func quotedIf(words bool, name string) string {
	if words {
		return "“" + name + "”"
	}
	return name
}

// codesOf are the codes of the supplies and batches that went in, each once.
func (d *Dossier) codesOf(inputs []record.Input) []string {
	var codes []string
	for _, in := range inputs {
		if from := d.input(in); from.Recorded && !slices.Contains(codes, from.From.Label) {
			codes = append(codes, from.From.Label)
		}
	}
	return codes
}

func labelsOf(links []publish.Link) []string {
	return each(links, func(l publish.Link) string { return l.Label })
}

// makers are the people who made it; if no maker is recorded, all who had a part
// in it.
func (d *Dossier) makers(list []record.Involvement) []string {
	var made, others []string
	for _, who := range d.involvements(list) {
		switch name := who.Person.Name; {
		case name == "":
		case who.Part == "carried-out":
			made = append(made, name)
		default:
			others = append(others, name+" ("+who.Part+")")
		}
	}
	if len(made) == 0 {
		return others
	}
	return made
}

func (d *Dossier) clearCheck(check *record.ClearCheck) string {
	if check == nil {
		return ""
	}
	by := ""
	if check.By != uuid.Nil {
		by = d.person(check.By).Name
	}
	return label.Checked(strings.ReplaceAll(check.Result, "-", " "), check.Date.Value, by)
}

// statedMaterials are the materials that the statements of a batch and of its
// lineage name, and the words for those that they do not: each once, up to the
// limit of a batch's contents.
func (d *Dossier) statedMaterials(id uuid.UUID) (materials, words []string) {
	seen := map[uuid.UUID]bool{}
	named, unnamed := distinctTexts{most: stock.MostMaterials}, distinctTexts{most: stock.MostUnnamed}
	var follow func(uuid.UUID)
	follow = func(id uuid.UUID) {
		if seen[id] {
			return
		}
		seen[id] = true
		switch said := d.entries[id].Value.(type) {
		case *record.Supply:
			named.add(said.Material)
		case *record.Batch:
			for _, in := range said.Inputs.Value {
				switch {
				case in.Material != "":
					named.add(in.Material)
				case in.Words != "":
					unnamed.add(in.Words)
				default:
					follow(cmp.Or(in.Supply, in.Batch))
				}
			}
		}
	}
	follow(id)
	return named.list, unnamed.list
}

// toppedUp adds the top-ups of a batch and of its lineage: whenever they were
// added, they may be in it.
func (d *Dossier) toppedUp(id uuid.UUID, f *label.Facts) {
	on, seen := d.book.Shelf(), map[uuid.UUID]bool{}
	unnamed := distinctTexts{most: stock.MostUnnamed}
	var batches []string // with which it was topped up
	var follow func(uuid.UUID)
	follow = func(id uuid.UUID) {
		if seen[id] {
			return
		}
		seen[id] = true
		for _, e := range on.Events(id.String()) {
			switch {
			case e.Kind != stock.ToppedUp:
			case e.With != nil && e.With.Batch != "":
				batches = append(batches, e.With.Batch)
			default:
				d.poured(e, f, &unnamed)
			}
		}
		if b := d.book.Batches[id]; b != nil {
			for _, in := range b.Inputs.Value {
				follow(in.Batch)
			}
		}
	}
	follow(id)
	brought := on.Brought(batches...)
	d.pouredIn(f, brought.Materials)
	unnamed.add(each(brought.Unnamed, func(name string) string { return quotedIf(true, name) })...)
	if more := unnamed.more + brought.MoreMaterials + brought.MoreUnnamed; more > 0 {
		unnamed.list = append(unnamed.list, fmt.Sprintf("%d more things that it was topped up with", more))
	}
	f.Unnamed = append(f.Unnamed, unnamed.list...)
}

func (d *Dossier) poured(e stock.Event, f *label.Facts, unnamed *distinctTexts) {
	switch {
	case e.With == nil:
		unnamed.add("what it was topped up with")
	case e.With.Stock != nil:
		var ids []string
		for _, content := range e.With.Stock.Contents {
			ids = append(ids, componentIDs(content.Component)...)
		}
		if dispersion := e.With.Stock.Dispersion; dispersion != nil {
			ids = append(ids, dispersion.Product.ID, dispersion.Water.ID)
		}
		d.pouredIn(f, ids)
	default:
		unnamed.add(quotedIf(true, e.With.Name))
	}
}

// componentIDs are a component, or the parts that it is supplied as.
func componentIDs(c solution.Component) []string {
	if len(c.Supplied) == 0 {
		return []string{c.ID}
	}
	return each(c.Supplied, func(s solution.MassShare) string { return s.Component.ID })
}

func (d *Dossier) pouredIn(f *label.Facts, ids []string) {
	for _, id := range ids {
		f.Substances = append(f.Substances, id)
		name := d.materialLink(id).Label
		if !slices.Contains(f.Solids, name) && !slices.Contains(f.Liquids, name) {
			f.Liquids = append(f.Liquids, name)
		}
	}
}
