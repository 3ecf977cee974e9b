package dossier

import (
	"github.com/google/uuid"

	"meniscus/internal/material"
	"meniscus/internal/publish"
	"meniscus/internal/record"
	"meniscus/internal/stock"
)

// Dossier is treatments with every record that they name: specimens, people, and
// batches with their lineage.
type Dossier struct {
	base        publish.Base
	institution string
	materials   *material.Base
	entries     map[uuid.UUID]Entry        // by record
	book        *stock.Book                // what is on record of the batches
	mostRead    int                        // how many supplies and batches are read at most
	names       *publish.Known             // what the ids in a statement mean; nil until asked
	contents    map[holding]*distinctLinks // what supplies and batches hold; nil until asked
}

// New begins an empty dossier of an institution.
func New(base publish.Base, institution string, materials *material.Base) *Dossier {
	return &Dossier{base: base, institution: institution, materials: materials, entries: map[uuid.UUID]Entry{}}
}

// Shelve sets what is on record of the batches of the dossier, as far as it was
// read: at most mostRead supplies and batches.
func (d *Dossier) Shelve(book *stock.Book, mostRead int) { d.book, d.mostRead = book, mostRead }

// person is the person with an id; an erased name is empty.
// PersonName is a person's name; empty if it is not known, or erased.
func (d *Dossier) PersonName(id uuid.UUID) string { return d.person(id).Name }

func (d *Dossier) person(id uuid.UUID) publish.Person {
	p := publish.Person{IRI: d.base.Person(id)}
	if said, ok := said[*record.Person](d, id); ok {
		p.Name, p.ORCID, p.Of = said.Name, said.ORCID, said.Organisation
	}
	return p
}

func (d *Dossier) involvements(list []record.Involvement) []publish.Involvement {
	people := make([]publish.Involvement, 0, len(list))
	for _, who := range list {
		out := publish.Involvement{Part: who.Part, Organisation: who.Organisation.Value}
		out.Name = string(who.Answer)
		if who.Person != uuid.Nil {
			out.Person = d.person(who.Person)
		}
		people = append(people, out)
	}
	return people
}

// revision is a record's revision and standing.
func (d *Dossier) revision(e Entry) publish.Revision {
	return publish.Revision{
		IRI: d.base.Record(e.Record), Record: e.Record, Number: e.Revision, At: e.RecordedAt, By: d.person(e.RecordedBy),
		Retracted: e.Retracted, Reason: e.Reason, Unreadable: e.Unreadable, Received: e.Received,
		Withheld: e.Value == nil && e.Withheld, Erased: e.Value == nil && !e.Retracted && !e.Unreadable && !e.Withheld,
	}
}

// Empty is a dossier of the same institution that holds nothing.
func (d *Dossier) Empty() *Dossier { return New(d.base, d.institution, d.materials) }

// Known lets the reader of a whole statement find what its ids mean.
func (d *Dossier) Known() publish.Known {
	if d.names == nil {
		k := d.allNames()
		d.names = &k
	}
	return *d.names
}

func (d *Dossier) allNames() publish.Known {
	k := publish.Known{Records: map[uuid.UUID]publish.Link{}, Materials: func(id string) (publish.Link, bool) {
		m, ok := d.materials.Material(id)
		return publish.Link{IRI: d.base.Material(id), Label: m.Name}, ok
	}}
	for id, e := range d.entries {
		k.Records[id] = d.link(id, e.Kind)
	}
	return k
}

// link names a record as others refer to it. A retracted record is marked.
func (d *Dossier) link(id uuid.UUID, kind record.Kind) publish.Link {
	l := d.unmarked(id, kind)
	if d.entries[id].Retracted {
		l.Label += " (retracted)"
	}
	return l
}

func (d *Dossier) unmarked(id uuid.UUID, kind record.Kind) publish.Link {
	switch kind {
	case record.KindPerson:
		p := d.person(id)
		return publish.Link{IRI: p.IRI, Label: p.Label()}
	case record.KindSpecimen:
		return d.specimenLink(id)
	case record.KindBatch, record.KindSupply:
		return d.stockLink(id, kind)
	case record.KindTreatment:
		return publish.Link{IRI: d.base.Treatment(id), Label: "treatment " + id.String()}
	}
	return publish.Link{IRI: d.base.Record(id), Label: id.String()}
}

func publishedDate(d record.Date) publish.Date {
	return publish.Date{Date: d.Value, Answer: string(d.Answer)}
}

func publishedQuantity(q record.Amount) publish.Quantity {
	if !q.Given {
		return publish.Quantity{}
	}
	return publish.Quantity{Value: q.Value.Value.String(), Unit: string(q.Value.Unit)}
}
