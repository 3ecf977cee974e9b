package postgres

import (
	"slices"
	"time"

	"github.com/google/uuid"

	"meniscus/internal/edtf"
	"meniscus/internal/record"
)

// Projector writes the projections of one entry within the entry's own batch.
type Projector struct {
	batch    *batch
	record   uuid.UUID
	revision int
	first    bool // nothing can be there yet
	// recorded is when the entry was recorded; nil in the transaction that
	// records it.
	recorded *time.Time
}

// clear empties the child rows of a record; there are none before the second
// revision.
func (p *Projector) clear(table, column string) {
	if !p.first {
		p.batch.Queue(`delete from `+table+` where institution_id = $1 and `+column+` = $2`, p.batch.institution, p.record)
	}
}

// Project brings the projections of the entry's record in line with what its
// statement says.
func (p *Projector) Project(v record.Value) {
	switch v := v.(type) {
	case *record.Person:
		p.person(v)
	case *record.Specimen:
		p.specimen(v)
	case *record.Supply:
		p.supply(v)
	case *record.Batch:
		p.mixture(v)
	case *record.AmountChange:
		p.amountChange(v)
	case *record.Treatment:
		p.treatment(v)
	case *record.Plan:
		p.plan(v)
	case *record.Material:
		p.material(v)
	}
}

func (p *Projector) person(v *record.Person) {
	p.batch.put(personTable, p.record, p.revision, v.DisplayName, record.FoldName(v.DisplayName))
}

// specimen projects a specimen and its identifiers.
func (p *Projector) specimen(v *record.Specimen) {
	p.batch.put(specimenTable, p.record, p.revision, orNull(v.Collection), orNull(v.BodyKind), refOrNull(v.Parent()))
	p.part(v.Part)
	p.clear("specimen_identifier", "specimen_id")
	for i, id := range v.Identifiers {
		p.batch.put(identifierTable, p.record, i, id.Kind, id.Value, record.Fold(id.Value), record.Plain(id.Value), orNull(v.Collection))
	}
	if v.Part != nil {
		p.stood()
	}
}

// part projects what a part took with it when it became a specimen, or that the
// specimen is no part.
func (p *Projector) part(v *record.Part) {
	if v == nil {
		if !p.first {
			p.batch.Queue(`update specimen set part_areas = null, split_earliest = null, split_latest = null, split_recorded = null
				 where institution_id = $1 and id = $2 and part_areas is not null`, p.batch.institution, p.record)
		}
		return
	}
	areas := append([]string{}, v.Areas.Value...)
	if slices.Contains(areas, "whole") {
		areas = []string{} // as where they are not known: all of it is inherited
	}
	earliest, latest := bounds(v.Split.Value)
	p.batch.Queue(`
		update specimen set part_areas = $3, split_earliest = $4, split_latest = $5, split_recorded = coalesce(split_recorded, $6::timestamptz, now())
		 where institution_id = $1 and id = $2`, p.batch.institution, p.record, areas, earliest, latest, p.recorded)
}

func (p *Projector) supply(v *record.Supply) {
	received, latest := bounds(v.Received.Value)
	_, expiry := bounds(v.Expiry.Value)
	p.batch.Queue(`
		insert into supply (institution_id, id, revision, code, material_id, received, received_latest, expiry) values ($1, $2, $3, $4, $5, $6, $7, $8)
		on conflict (id, institution_id) do update set revision = excluded.revision, retracted = false, code = excluded.code,
			material_id = excluded.material_id, received = excluded.received, received_latest = excluded.received_latest, expiry = excluded.expiry`,
		p.batch.institution, p.record, p.revision, v.Code, orNull(v.Material), received, latest, expiry)
}

// mixture projects a batch and what went into it.
func (p *Projector) mixture(v *record.Batch) {
	earliest, latest := bounds(v.Made.Value)
	p.batch.Queue(`
		insert into batch (institution_id, id, revision, code, kind, made_earliest, made_latest) values ($1, $2, $3, $4, $5, $6, $7)
		on conflict (id, institution_id) do update set revision = excluded.revision, retracted = false, code = excluded.code,
			kind = excluded.kind, made_earliest = excluded.made_earliest, made_latest = excluded.made_latest`,
		p.batch.institution, p.record, p.revision, v.Code, v.Type, earliest, latest)
	p.clear("batch_input", "batch_id")
	for i, in := range v.Inputs.Value {
		p.batch.Queue(`
			insert into batch_input (institution_id, batch_id, position, part, supply_id, from_batch_id, material_id, words, candidates)
			values ($1, $2, $3, $4, $5, $6, $7, $8, $9)`,
			p.batch.institution, p.record, i, in.Part, refOrNull(in.Supply), refOrNull(in.Batch), orNull(in.Material), orNull(in.Words), orEmpty(in.Candidates))
	}
	p.people("batch", v.People)
}

func (p *Projector) amountChange(v *record.AmountChange) {
	earliest, latest := bounds(v.Date.Value)
	var with record.Used
	if v.With != nil {
		with = *v.With
	}
	p.batch.Queue(`
		insert into amount_change (institution_id, id, revision, batch_id, kind, earliest, latest, person_id,
			with_supply_id, with_batch_id, with_material_id, with_words, with_candidates)
		values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13)
		on conflict (id, institution_id) do update set revision = excluded.revision, retracted = false,
			batch_id = excluded.batch_id, kind = excluded.kind, earliest = excluded.earliest, latest = excluded.latest,
			person_id = excluded.person_id, with_supply_id = excluded.with_supply_id, with_batch_id = excluded.with_batch_id,
			with_material_id = excluded.with_material_id, with_words = excluded.with_words, with_candidates = excluded.with_candidates`,
		p.batch.institution, p.record, p.revision, v.Batch, v.Type, earliest, latest, refOrNull(v.By),
		refOrNull(with.Supply), refOrNull(with.Batch), orNull(with.Material), orNull(with.Words), orEmpty(with.Candidates))
}

// treatment projects a treatment with its areas, people, materials and what it
// removes.
func (p *Projector) treatment(v *record.Treatment) {
	earliest, latest := bounds(v.Date.Value)
	if !p.first {
		p.batch.Queue(`
			insert into treatment_was_on (institution_id, specimen_id, treatment_id)
			select institution_id, specimen_id, id from treatment where institution_id = $1 and id = $2 and specimen_id <> $3
			union
			select institution_id, joined_to_id, id from treatment where institution_id = $1 and id = $2 and joined_to_id is distinct from $4
			   and joined_to_id is not null
			on conflict do nothing`, p.batch.institution, p.record, v.Specimen, refOrNull(v.JoinedTo))
	}
	p.batch.put(treatmentTable, p.record, p.revision, v.Specimen, refOrNull(v.JoinedTo), string(v.Action), earliest, latest, refOrNull(v.Event), refOrNull(v.Plan.Value))
	p.areas("treatment", v.Areas.Value)
	p.people("treatment", v.People)
	p.clear("treatment_use_candidate", "treatment_id")
	p.uses("treatment", v.Uses.Value)
	for i, use := range v.Uses.Value {
		for _, candidate := range use.Candidates {
			p.batch.put(candidateTable, p.record, i, candidate)
		}
	}
	p.clear("treatment_removes", "treatment_id")
	for _, removed := range v.Removes() {
		p.batch.put(removesTable, p.record, removed)
	}
}

// areas projects the areas of a record whose table this is.
func (p *Projector) areas(table string, paths []string) {
	p.clear(table+"_area", table+"_id")
	for _, path := range paths {
		p.batch.put(areaTables[table], p.record, path)
	}
}

// people projects who had a part in a record whose table this is, but for those
// of whom only an answer was given.
func (p *Projector) people(table string, people []record.Involvement) {
	p.clear(table+"_person", table+"_id")
	position := 0
	for _, who := range people {
		if who.Person != uuid.Nil {
			p.batch.put(personTables[table], p.record, position, who.Person, who.Part)
			position++
		}
	}
}

// uses projects the materials of a record whose table this is.
func (p *Projector) uses(table string, uses []record.Use) {
	p.clear(table+"_use", table+"_id")
	for i, use := range uses {
		p.batch.put(useTables[table], p.record, i, orNull(use.Role), refOrNull(use.Batch), refOrNull(use.Supply),
			orNull(use.Material), orNull(use.Words), string(use.Certainty))
	}
}

// material projects an institution's own material.
func (p *Projector) material(v *record.Material) {
	p.batch.Queue(`
		insert into material (institution_id, id, revision, like_id) values ($1, $2, $3, $4)
		on conflict (id, institution_id) do update set revision = excluded.revision, retracted = false, like_id = excluded.like_id`,
		p.batch.institution, p.record, p.revision, orNull(v.Like))
}

// tableOf is where a kind's projection lies.
var tableOf = map[record.Kind]string{
	record.KindPerson:       "person",
	record.KindSpecimen:     "specimen",
	record.KindSupply:       "supply",
	record.KindBatch:        "batch",
	record.KindAmountChange: "amount_change",
	record.KindTreatment:    "treatment",
	record.KindPlan:         "plan",
	record.KindMaterial:     "material",
}

// Retract takes a record out of lists, reports and present states.
func (p *Projector) Retract(kind record.Kind) {
	if table, ok := tableOf[kind]; ok {
		p.batch.Queue(`update `+table+` set retracted = true, revision = $3 where institution_id = $1 and id = $2`,
			p.batch.institution, p.record, p.revision)
	}
}

// Blank takes the words out of a record's projections.
func (p *Projector) Blank(kind record.Kind) {
	if kind == record.KindPerson {
		p.batch.Queue(`update person set revision = $3, display_name = null, folded_name = null where institution_id = $1 and id = $2`,
			p.batch.institution, p.record, p.revision)
		return
	}
	for _, table := range projections[kind] {
		if table[0] != tableOf[kind] && table[0] != "specimen_stood" { // that has no words
			p.clear(table[0], table[1])
		}
	}
	p.Retract(kind)
	if kind == record.KindAmountChange {
		p.batch.Queue(`update amount_change set person_id = null, with_words = null, with_candidates = '{}' where institution_id = $1 and id = $2`, p.batch.institution, p.record)
	}
}

// bounds gives a date's earliest and latest days; an end that is open, unknown
// or not answered is null.
func bounds(d edtf.Date) (earliest, latest any) {
	if day, ok := d.Earliest(); ok && !d.IsZero() {
		earliest = day.Time()
	}
	if day, ok := d.Latest(); ok && !d.IsZero() {
		latest = day.Time()
	}
	return earliest, latest
}

// orEmpty is a list that is stored as empty, and not as null.
func orEmpty(list []string) []string { return append([]string{}, list...) }

func orNull(text string) *string {
	if text == "" {
		return nil
	}
	return &text
}

func refOrNull(ref uuid.UUID) *uuid.UUID {
	if ref == uuid.Nil {
		return nil
	}
	return &ref
}
