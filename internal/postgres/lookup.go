package postgres

import (
	"context"
	"time"

	"github.com/google/uuid"

	"meniscus/internal/record"
)

// Numbered is a specimen under one of its numbers.
type Numbered struct {
	Asked      string    `db:"asked"`       // the number that it was found by
	Specimen   uuid.UUID `db:"specimen_id"` // the record that stands for it now
	Registered uuid.UUID `db:"registered"`  // the record that carries the number
	Kind       string    `db:"kind"`
	Number     string    `db:"value"`
	Collection *string   `db:"collection"`
}

// Recorded is how much is recorded of a specimen.
type Recorded struct {
	Specimen     uuid.UUID  `db:"specimen_id"`
	Treatments   int64      `db:"treatments"`
	LastRecorded *time.Time `db:"last_recorded"`
}

// mostHits is how many specimens one number gives at most.
const mostHits = 200

// ByNumbers gives the specimens that carry exactly these numbers.
func (s Tenant) ByNumbers(ctx context.Context, numbers []string) ([]Numbered, error) {
	return collectPlannedAnew[Numbered](ctx, s, `
		select a.number as asked, `+survivor+` as specimen_id, hit.specimen_id as registered, hit.kind, hit.value,
			hit.collection
		  from unnest($2::text[]) as a(number)
		 cross join lateral (
			select i.specimen_id, i.kind, i.value, i.collection, s.merged_into
			  from specimen_identifier i
			  join specimen s on s.id = i.specimen_id and s.institution_id = i.institution_id and not s.retracted
			 where i.institution_id = $1 and i.value = a.number
			 order by i.specimen_id, i.position limit $3) as hit`, s.institution, numbers, mostHits)
}

// NearNumbers gives specimens whose numbers may be other spellings of these:
// those that fold alike, and those whose folded form begins alike. The caller
// ranks them. The beginning is compared as a range, which row-level security
// lets into the index and which does not hang on a constant pattern.
func (s Tenant) NearNumbers(ctx context.Context, numbers []string) ([]Numbered, error) {
	folded, begin := make([]string, len(numbers)), make([]string, len(numbers))
	for i, number := range numbers {
		folded[i] = record.Fold(number)
		runes := []rune(folded[i])
		begin[i] = string(runes[:max(len(runes)-2, min(len(runes), 2))])
	}
	return collectPlannedAnew[Numbered](ctx, s, `
		select a.number as asked, survivor_of($1, hit.specimen_id) as specimen_id, hit.specimen_id as registered, hit.kind,
		       hit.value, hit.collection
		  from unnest($2::text[], $3::text[], $4::text[]) as a(number, folded, begins)
		 cross join lateral (
			select n.specimen_id, n.kind, n.value, n.collection from (
				(select i.* from specimen_identifier i where i.institution_id = $1 and i.folded = a.folded
				  order by i.specimen_id limit $5)
				union
				(select i.* from specimen_identifier i
				  where i.institution_id = $1 and i.folded >= a.begins and i.folded < a.begins || U&'\+10FFFF'
				  order by i.folded, i.specimen_id limit $5)) as n
			  join specimen s on s.id = n.specimen_id and s.institution_id = n.institution_id and not s.retracted
			 order by n.value, n.specimen_id) as hit`, s.institution, numbers, folded, begin, mostHits)
}

// SpelledAlike gives specimens whose numbers fold as these do: they differ in
// case, spaces, punctuation or leading zeros, or not at all.
func (s Tenant) SpelledAlike(ctx context.Context, numbers []string) ([]Numbered, error) {
	folded := make([]string, len(numbers))
	for i, number := range numbers {
		folded[i] = record.Fold(number)
	}
	return collectPlannedAnew[Numbered](ctx, s, `
		select a.number as asked, `+survivor+` as specimen_id, hit.specimen_id as registered,
		       hit.kind, hit.value, hit.collection
		  from unnest($2::text[], $3::text[]) as a(number, folded)
		 cross join lateral (
			select i.specimen_id, i.kind, i.value, i.collection, s.merged_into
			  from specimen_identifier i
			  join specimen s on s.id = i.specimen_id and s.institution_id = i.institution_id and not s.retracted
			 where i.institution_id = $1 and i.folded = a.folded
			 order by i.specimen_id, i.position limit $4) as hit`, s.institution, numbers, folded, mostHits)
}

// survivor is the record that stands for that of a hit; most were never merged,
// and then nothing is looked up.
const survivor = `case when hit.merged_into is null then hit.specimen_id else survivor_of($1, hit.specimen_id) end`

// RecordedOf counts the treatments of specimens; those without any are left out.
func (s Tenant) RecordedOf(ctx context.Context, specimens []uuid.UUID) (map[uuid.UUID]Recorded, error) {
	rows, err := collect[Recorded](ctx, s, `
		`+treatmentsOnEach+`select t.specimen as specimen_id, count(*) as treatments, max(e.recorded_at) as last_recorded
		  from on_each t join entry e on e.institution_id = $1 and e.record_id = t.id and e.revision = t.revision
		 group by t.specimen`, s.institution, specimens)
	found := make(map[uuid.UUID]Recorded, len(rows))
	for _, r := range rows {
		found[r.Specimen] = r
	}
	return found, err
}

// NumberConflict is a number of a specimen that another specimen of its collection
// carries too, by what two spellings have in common.
type NumberConflict struct {
	Specimen   uuid.UUID `db:"specimen_id"` // of those asked about
	Kind       string    `db:"kind"`
	Number     string    `db:"value"`
	Collection *string   `db:"collection"`
	Other      uuid.UUID `db:"other"` // the record that stands for the other one
	OtherValue string    `db:"other_value"`
	// Same tells that they differ in spaces, case or dashes at the most; else also
	// in punctuation or leading zeros.
	Same bool `db:"same"`
}

// ConflictsOf gives the conflicts of specimens, with those of the records merged
// into them. Records that are one specimen do not conflict.
func (s Tenant) ConflictsOf(ctx context.Context, specimens []uuid.UUID) (map[uuid.UUID][]NumberConflict, error) {
	rows, err := collectPlannedAnew[NumberConflict](ctx, s, `
		with asked as (select distinct id, survivor_of($1, id) as stands from unnest($2::uuid[]) as a(id))
		select distinct a.id as specimen_id, mine.kind, mine.value, mine.collection, other.stands as other,
		       other.value as other_value, other.same
		  from asked a
		 cross join lateral records_of($1, a.id) as r(id)
		  join specimen_identifier mine on mine.institution_id = $1 and mine.specimen_id = r.id
		 cross join lateral (
			(`+spelledLike("plain")+` limit $3)
			union all
			(`+spelledLike("folded")+` and i.plain <> mine.plain limit $3)) as other
		 where other.stands <> a.stands
		 order by 1, 2, 3, 7 desc, 5, 6`, s.institution, specimens, mostHits)
	found := map[uuid.UUID][]NumberConflict{}
	for _, c := range rows {
		found[c.Specimen] = append(found[c.Specimen], c)
	}
	return found, err
}

// spelledLike selects the numbers of other specimens that agree with mine in one
// of the columns that spellings are reduced in.
func spelledLike(column string) string {
	return `
			select i.value, survivor_of($1, i.specimen_id) as stands, i.plain = mine.plain as same
			  from specimen_identifier i join specimen s on s.institution_id = $1 and s.id = i.specimen_id and not s.retracted
			 where i.institution_id = $1 and i.` + column + ` = mine.` + column + ` and i.kind = mine.kind
			   and i.specimen_id <> mine.specimen_id
			   and i.collection is not distinct from mine.collection`
}
