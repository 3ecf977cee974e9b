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
	first    bool // the record has no rows yet
	// recorded is when the entry was recorded; nil in the transaction that
	// records it.
	recorded *time.Time
}

// clear deletes the child rows of a record; there are none before the second revision.
func (p *Projector) clear(table, column string) {
	if !p.first {
		p.batch.Queue(`delete from `+table+` where institution_id = $1 and `+column+` = $2`, p.batch.institution, p.record)
	}
}

// part projects what a part took with it when it became a specimen, or that the
// specimen is no part.
func (p *Projector) part(v *record.Part) {
	if v == nil {
		if !p.first {
			p.batch.Queue(`update specimen
				set part_areas = null, split_earliest = null, split_latest = null, split_recorded = null
				 where institution_id = $1 and id = $2 and part_areas is not null`, p.batch.institution, p.record)
		}
		return
	}
	areas := append([]string{}, v.Areas.Value...)
	if slices.Contains(areas, "whole") {
		areas = []string{} // as for unknown areas: all treatments are inherited
	}
	earliest, latest := bounds(v.Split.Value)
	p.batch.Queue(`
		update specimen set part_areas = $3, split_earliest = $4, split_latest = $5,
		       split_recorded = coalesce(split_recorded, $6::timestamptz, now())
		 where institution_id = $1 and id = $2`, p.batch.institution, p.record, areas, earliest, latest, p.recorded)
}

// areas projects the areas of a record whose table this is.
func (p *Projector) areas(table string, paths []string) {
	p.clear(table+"_area", table+"_id")
	for _, path := range paths {
		p.batch.put(areaTables[table], p.record, path)
	}
}

// people projects the people of a record whose table this is, without those given as
// "unknown" or another such answer.
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

// Retract takes a record out of lists, reports and present states.
func (p *Projector) Retract(kind record.Kind) {
	if k := kinds[kind]; k != nil {
		p.batch.Queue(`update `+k.name+` set retracted = true, revision = $3 where institution_id = $1 and id = $2`,
			p.batch.institution, p.record, p.revision)
	}
}

// Blank removes the words from a record's projections.
func (p *Projector) Blank(kind record.Kind) {
	if kind == record.KindPerson {
		p.batch.Queue(`update person set revision = $3, display_name = null, folded_name = null
			where institution_id = $1 and id = $2`,
			p.batch.institution, p.record, p.revision)
		return
	}
	for _, table := range projections[kind] {
		if table[0] != kinds[kind].name && table[0] != "specimen_stood" { // specimen_stood has no words
			p.clear(table[0], table[1])
		}
	}
	p.Retract(kind)
	if kind == record.KindAmountChange {
		p.batch.Queue(`update amount_change set person_id = null, with_words = null, with_candidates = '{}'
			where institution_id = $1 and id = $2`, p.batch.institution, p.record)
	}
}

// Blanked sets the record's revision to that of a redaction that is being restored, if
// it took the words of the statement in force.
func (p *Projector) Blanked(kind record.Kind) {
	p.batch.Queue(`
		update `+kinds[kind].name+` set revision = $3 where institution_id = $1 and id = $2
		   and exists (select from entry x
		                where x.institution_id = $1 and x.record_id = $2 and x.revision = $3 and `+blanksInForce+`)`,
		p.batch.institution, p.record, p.revision)
}

// bounds gives the earliest and latest days that a date may mean; an end that is
// open, unknown or not answered is null.
func bounds(d edtf.Date) (earliest, latest any) {
	period := d.Period()
	if !period.From.IsZero() {
		earliest = period.From.Time()
	}
	if !period.To.IsZero() {
		latest = period.To.Time()
	}
	return earliest, latest
}

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
