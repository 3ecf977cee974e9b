package postgres

import (
	"bytes"
	"cmp"
	"context"
	"slices"
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

// Recorded is how much is recorded of a specimen, and the words of its record that say that it left.
type Recorded struct {
	Specimen     uuid.UUID  `db:"specimen_id"`
	Treatments   int64      `db:"treatments"`
	LastRecorded *time.Time `db:"last_recorded"`
	Left         *string    `db:"-"`
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

// Near is a specimen under a number that is near the one asked for.
type Near struct {
	Numbered
	Likeness record.Likeness `db:"likeness"`
}

// NearNumbers gives specimens whose numbers may be other spellings of these,
// themselves included: those that fold as a variant of them does. The caller ranks
// them. It is at most record.MostVariants looks into an index for each.
func (s Tenant) NearNumbers(ctx context.Context, numbers []string) ([]Near, error) {
	var asked, folds []string
	var likeness []int32
	for _, number := range numbers {
		for _, v := range record.Variants(number) {
			asked, folds, likeness = append(asked, number), append(folds, v.Fold), append(likeness, int32(v.Likeness))
		}
	}
	return collectPlannedAnew[Near](ctx, s, `
		select a.number as asked, `+survivor+` as specimen_id, hit.specimen_id as registered, hit.kind,
		       hit.value, hit.collection, a.likeness
		  from unnest($2::text[], $3::text[], $4::int[]) as a(number, folded, likeness)
		 cross join lateral (
			select i.specimen_id, i.kind, i.value, i.collection, s.merged_into
			  from specimen_identifier i
			  join specimen s on s.id = i.specimen_id and s.institution_id = i.institution_id and not s.retracted
			 where i.institution_id = $1 and i.folded = a.folded
			 order by i.kind, i.specimen_id, i.position limit $5) as hit`,
		s.institution, asked, folds, likeness, record.MaxNear)
}

// survivor is the record that stands for the specimen of a hit. Most specimens were
// never merged and need no look-up.
const survivor = `case when hit.merged_into is null then hit.specimen_id else survivor_of($1, hit.specimen_id) end`

// RecordedOf counts the treatments of specimens; those without any that are here are left out.
func (s Tenant) RecordedOf(ctx context.Context, specimens []uuid.UUID) (map[uuid.UUID]Recorded, error) {
	type leaving struct {
		Specimen uuid.UUID `db:"specimen_id"`
		Body     string    `db:"body"`
	}
	var rows []Recorded
	var left []leaving
	b := newBatchByIndex(s.institution)
	queue(b, &rows, `
		`+treatmentsOnEach+`select t.specimen as specimen_id, count(*) as treatments, max(e.recorded_at) as last_recorded
		  from on_each t join entry e on e.institution_id = $1 and e.record_id = t.id and e.revision = t.revision
		 group by t.specimen`, s.institution, specimens)
	queue(b, &left, `
		select distinct on (a.id) a.id as specimen_id, told('specimen', s.id, e.body) as body
		  from unnest($2::uuid[]) a(id) cross join lateral records_of($1, a.id) r(id)
		 cross join lateral (select id, revision from specimen
		                      where institution_id = $1 and id = r.id and not retracted offset 0) s
		 cross join lateral (select body from entry where institution_id = $1 and record_id = s.id and revision = s.revision
		                        and position('"passedOn"' in body) > 0 offset 0) e
		 order by a.id, s.id <> a.id`, s.institution, specimens)
	err := s.run(ctx, b)
	found := make(map[uuid.UUID]Recorded, len(rows))
	for _, r := range rows {
		found[r.Specimen] = r
	}
	for _, l := range left {
		r := found[l.Specimen]
		r.Specimen, r.Left = l.Specimen, &l.Body
		found[l.Specimen] = r
	}
	return found, err
}

// NumberConflict is a number of a specimen that another specimen of its collection
// carries too, in the same or a similar spelling.
type NumberConflict struct {
	Specimen   uuid.UUID `db:"specimen_id"` // one of those asked about
	Kind       string    `db:"kind"`
	Number     string    `db:"value"`
	Collection *string   `db:"collection"`
	Other      uuid.UUID `db:"other"` // the record that stands for the other one
	OtherValue string    `db:"other_value"`
}

// Same tells whether the two numbers differ at most in spaces, case or dashes; if
// false, they also differ in punctuation or leading zeros.
func (c NumberConflict) Same() bool { return record.Plain(c.Number) == record.Plain(c.OtherValue) }

// ConflictsOf gives the conflicts of specimens, with those of the records merged into
// them: for each number the same spellings come first. Records that are merged do not
// conflict with each other.
func (s Tenant) ConflictsOf(ctx context.Context, specimens []uuid.UUID) (map[uuid.UUID][]NumberConflict, error) {
	rows, err := collectPlannedAnew[NumberConflict](ctx, s, `
		with asked as (select distinct id, survivor_of($1, id) as stands from unnest($2::uuid[]) as a(id))
		select distinct a.id as specimen_id, mine.kind, mine.value, mine.collection, other.stands as other,
		       other.value as other_value
		  from asked a
		 cross join lateral records_of($1, a.id) as r(id)
		  join specimen_identifier mine on mine.institution_id = $1 and mine.specimen_id = r.id
		 cross join lateral (
			select i.value, survivor_of($1, i.specimen_id) as stands
			  from specimen_identifier i join specimen s on s.institution_id = $1 and s.id = i.specimen_id and not s.retracted
			 where i.institution_id = $1 and i.folded = mine.folded and i.kind = mine.kind
			   and i.specimen_id <> mine.specimen_id
			   and i.collection is not distinct from mine.collection
			 order by i.specimen_id limit $3) as other
		 where other.stands <> a.stands
		 order by 1, 2, 3, 5, 6`, s.institution, specimens, mostHits)
	slices.SortStableFunc(rows, func(a, b NumberConflict) int {
		return cmp.Or(bytes.Compare(a.Specimen[:], b.Specimen[:]), cmp.Compare(a.Kind, b.Kind),
			cmp.Compare(a.Number, b.Number), sameFirst(a.Same(), b.Same()))
	})
	found := map[uuid.UUID][]NumberConflict{}
	for _, c := range rows {
		found[c.Specimen] = append(found[c.Specimen], c)
	}
	return found, err
}

func sameFirst(a, b bool) int {
	switch {
	case a == b:
		return 0
	case a:
		return -1
	}
	return 1
}
