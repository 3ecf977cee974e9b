package dossier

import (
	"maps"
	"slices"

	"github.com/google/uuid"

	"meniscus/internal/publish"
	"meniscus/internal/record"
	"meniscus/internal/stack"
)

// Listed is a treatment as it is on record of a specimen.
type Listed struct {
	Treatment uuid.UUID
	// From is the record that it was stated about, if that is another one, and
	// Because is why it is listed here: merged, or split.
	From    *uuid.UUID
	Because string
	Certain bool // of a split: the treatment was certainly before it
}

// Specimen is a specimen with the treatments that are listed of it and the records
// that it stands for. It takes the notices from about, which every view uses, and
// adds which records cannot be read.
func (d *Dossier) Specimen(id uuid.UUID, about *stack.Specimen, list []Listed, merged []uuid.UUID) publish.Specimen {
	out, told := d.specimen(id), map[uuid.UUID]bool{}
	var unread []uuid.UUID
	for _, l := range list {
		if _, ok := said[*record.Treatment](d, l.Treatment); ok {
			out.Treatments = append(out.Treatments, d.treatmentOn(id, l, told))
		} else {
			unread = append(unread, l.Treatment)
		}
	}
	stock := slices.SortedFunc(maps.Keys(told), byID)
	for _, named := range slices.Concat(unread, stock) {
		if e := d.entries[named]; e.Unreadable {
			about.Unread = append(about.Unread, stack.Unread{Kind: string(e.Kind), ID: named.String()})
		}
	}
	out.Untold = len(unread)
	out.Notices, out.MoreTreatments = about.Notices(), about.MoreTreatments
	hazards := about.ReadHazards()
	out.Open, out.HazardTag = hazards.Open(), hazards.Tag()
	for _, record := range merged {
		numbers := d.specimen(record).Identifiers
		out.Merged = append(out.Merged, publish.Merged{Link: d.specimenLink(record), Identifiers: numbers})
	}
	return out
}

// Unsaid are the revisions of records that say nothing any more.
func (d *Dossier) Unsaid(records []uuid.UUID) []publish.Revision {
	return each(records, func(id uuid.UUID) publish.Revision { return d.revision(d.entries[id]) })
}

// treatmentOn is a treatment as it is listed under a specimen: one that was
// stated about a record merged into it is a treatment of it, one that is
// inherited was carried out on the whole.
func (d *Dossier) treatmentOn(specimen uuid.UUID, l Listed, told map[uuid.UUID]bool) publish.Treatment {
	t := d.treatment(l.Treatment, told)
	if l.From == nil || l.Because == "" {
		return t
	}
	t.Origin = &publish.Origin{Link: d.specimenLink(*l.From), Because: l.Because, Certain: l.Certain}
	if l.Because == "merged" && t.Specimen.IRI == t.Origin.IRI {
		t.Specimen = d.specimenLink(specimen)
	}
	return t
}

// specimen is a specimen without its treatments.
func (d *Dossier) specimen(id uuid.UUID) publish.Specimen {
	e := d.entries[id]
	out := publish.Specimen{
		IRI: d.base.Specimen(id), Institution: d.institution, Revision: d.revision(e), Title: d.titleOf(id),
		SourceID: e.SourceID,
	}
	said, ok := said[*record.Specimen](d, id)
	if !ok {
		return out
	}
	for _, number := range said.Identifiers {
		out.Identifiers = append(out.Identifiers, publish.Identifier{Kind: number.Kind, Value: number.Value})
	}
	out.Collection, out.Description, out.Body = said.Collection, said.Description, said.BodyKind
	out.Classification, out.Owner = said.Classification.Value, said.Owner.Value
	out.Fields = publish.Fields(e.Says(), d.Known())
	if e.MergedInto != uuid.Nil {
		link := d.specimenLink(e.MergedInto)
		out.MergedInto = &link
	}
	if said.Part != nil {
		link := d.specimenLink(said.Part.Specimen)
		out.PartOf = &link
	}
	return out
}

// titleOf is the number that a specimen is known by: its first catalogue number,
// else its first number.
func (d *Dossier) titleOf(id uuid.UUID) string {
	said, ok := said[*record.Specimen](d, id)
	if !ok {
		return "specimen " + id.String()
	}
	return said.Title()
}

func (d *Dossier) specimenLink(id uuid.UUID) publish.Link {
	return publish.Link{IRI: d.base.Specimen(id), Label: d.titleOf(id)}
}
