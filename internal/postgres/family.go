package postgres

import (
	"context"

	"github.com/google/uuid"
)

// Kin is a record that tells of a specimen beside its own: one that was merged
// into it, or one that it came from, as a part or a sample.
type Kin struct {
	Row
	Because string `db:"because"` // merged, or origin
}

type kinRow struct {
	Kin
	Of uuid.UUID `db:"of"`
}

// familiesOf reads the kin of specimens that were asked for as $2, as they stand.
// What was merged into an origin, and what an origin was merged into, are origins
// too.
const familiesOf = `
	select x.id as of, f.because, ` + entryColumns + `, null::bigint as seq
	  from (select distinct unnest($2::uuid[]) as id) x
	 cross join lateral (
		with recursive family(id, because) as (
			select x.id, ''
			union
			select n.* from family f cross join lateral (
				select s.id, case f.because when '' then 'merged' else f.because end
				  from specimen s where s.institution_id = $1 and s.merged_into = f.id
				union all
				select s.parent_id, 'origin' from specimen s where s.institution_id = $1 and s.id = f.id and s.parent_id is not null
				union all
				select s.merged_into, f.because from specimen s
				 where s.institution_id = $1 and s.id = f.id and f.because = 'origin' and s.merged_into is not null
			) n)
		select distinct on (id) id, because from family where id <> x.id order by id, because) f
	  join specimen t on t.institution_id = $1 and t.id = f.id and not t.retracted
	  join entry e on e.institution_id = $1 and e.record_id = t.id and e.revision = t.revision
	 order by x.id, t.id`

// FamiliesOf gives the kin of each of the specimens.
func (s Tenant) FamiliesOf(ctx context.Context, specimens []uuid.UUID) (map[uuid.UUID][]Kin, error) {
	rows, err := collect[kinRow](ctx, s, familiesOf, s.institution, specimens)
	found := map[uuid.UUID][]Kin{}
	for _, r := range rows {
		found[r.Of] = append(found[r.Of], r.Kin)
	}
	return found, err
}

// FamilyAt gives the kin of a specimen as they stood at a sequence number, without the
// specimens that samples were taken from: those the samples' own words name.
func (s Tenant) FamilyAt(ctx context.Context, specimen uuid.UUID, sequence int64) ([]Kin, error) {
	return collect[Kin](ctx, s, `
		select distinct on (f.id) case f.because when 'merged' then 'merged' else 'origin' end as because, `+entryColumns+`,
			null::bigint as seq
		  from family_at($1, $2, $3) f
		  join entry e on e.institution_id = $1 and e.record_id = f.id and e.revision = revision_at($1, f.id, $3)
		 where f.id <> $2 and e.act <> 'retracted'
		 order by f.id, because`, s.institution, specimen, sequence)
}

// mostSamplings is how many treatments that took one sample are read, the earliest first.
const mostSamplings = 10

// SamplingsOf gives the treatments that took a sample of a specimen, as far as they name the sample.
func (s Tenant) SamplingsOf(ctx context.Context, specimen, sample uuid.UUID) ([]Row, error) {
	return collect[Row](ctx, s, `
		select `+entryColumns+`, null::bigint as seq
		  from (select distinct id from records_of($1, survivor_of($1, $2)) as id) f
		 cross join lateral (select * from treatment where institution_id = $1 and specimen_id = f.id offset 0) t
		 cross join lateral (select * from entry where institution_id = $1 and record_id = t.id
		                        and revision = t.revision offset 0) e
		 where t.action = 'sampling' and not t.retracted and position($3 in e.body) > 0
		 order by t.earliest nulls last, t.id limit $4`, s.institution, specimen, sample.String(), mostSamplings)
}
