package postgres

import (
	"context"
	"time"

	"github.com/google/uuid"
)

// PlaceAt gives the last place that was sealed at a moment or before, 0 if there
// was none. What was believed at a moment is what stood up to that place: a
// time of recording is set before its entry is seen by others, a place after.
//
// Places have no gaps and their times never go back, so the place is found by
// halving, without an index on the time.
func (s *Store) PlaceAt(ctx context.Context, institution uuid.UUID, at time.Time) (int64, error) {
	type one struct{ Seq int64 }
	rows, err := collect[one](ctx, s, institution, `
		with recursive half(low, high) as (
			select 0::bigint, coalesce((select seq from place where institution_id = $1 order by seq desc limit 1), 0)
			union all
			select case when early then middle else low end, case when early then high else middle - 1 end
			  from half
			 cross join lateral (select (low + high + 1) / 2 as middle) as m
			 cross join lateral (select p.sealed_at <= $2 as early from place p where p.institution_id = $1 and p.seq = m.middle) as p
			 where low < high
		)
		select low as seq from half where low >= high`, institution, at)
	if err != nil || len(rows) == 0 {
		return 0, err
	}
	return rows[0].Seq, nil
}

// RecordAt gives a record's revision in force at a place, nil if there was none.
func (s *Store) RecordAt(ctx context.Context, institution, id uuid.UUID, place int64) (*Row, error) {
	rows, err := collect[Row](ctx, s, institution, `
		select `+entryColumns+`, p.seq
		  from place p join entry e on e.id = p.entry_id and e.institution_id = p.institution_id
		 where p.institution_id = $1 and p.record_id = $2 and p.seq <= $3 and e.act <> 'redacted'
		 order by p.seq desc limit 1`, institution, id, place)
	if err != nil || len(rows) == 0 {
		return nil, err
	}
	return &rows[0], nil
}

// TreatmentsAt gives, as they stood at a place, the treatments that are now on a
// specimen, joined to it, or were on it once. Which of them were on it then,
// their statements tell.
func (s *Store) TreatmentsAt(ctx context.Context, institution, specimen uuid.UUID, place int64) ([]Row, error) {
	return collect[Row](ctx, s, institution, `
		with candidate(id) as (
			select id from treatment where institution_id = $1 and specimen_id = $2
			union
			select id from treatment where institution_id = $1 and joined_to_id = $2
			union
			select treatment_id from treatment_was_on where institution_id = $1 and specimen_id = $2
		)
		select believed.* from candidate c
		 cross join lateral (
			select `+entryColumns+`, p.seq
			  from place p join entry e on e.id = p.entry_id and e.institution_id = p.institution_id
			 where p.institution_id = $1 and p.record_id = c.id and p.seq <= $3 and e.act <> 'redacted'
			 order by p.seq desc limit 1) as believed
		 order by believed.record_id`, institution, specimen, place)
}

// Dated is a treatment's row with its place in the order of dates.
type Dated struct {
	Row
	Earliest time.Time `db:"day"` // far in the future if nobody knows it
	// From is the record that it was stated about, if that is another one.
	From    *uuid.UUID `db:"stated_about"`
	Because *string    `db:"because"`
	Certain bool       `db:"certain"`
}

// TreatmentsOf gives a specimen's treatments that are not retracted, those that
// join it to another and those of records merged into it or split from among them, by the earliest day that they may have
// happened on and then by id, after such a pair. Those without one come last.
func (s *Store) TreatmentsOf(ctx context.Context, institution, specimen uuid.UUID, day time.Time, after uuid.UUID, limit int) ([]Dated, error) {
	return collect[Dated](ctx, s, institution, `
		with mine as (
			select id, revision, coalesce(earliest, $6::date) as day, case when because is not null then stated_about end as stated_about, because, certain
			  from treatments_on($1, $2) where not retracted)
		select `+entryColumns+`, null::bigint as seq, t.day, t.stated_about, t.because, t.certain
		  from mine t join entry e on e.institution_id = $1 and e.record_id = t.id and e.revision = t.revision
		 where (t.day, t.id) > ($3::date, $4::uuid)
		 order by t.day, t.id limit $5`, institution, specimen, day, after, limit, NoDay)
}

// NoDay stands for the earliest day of what has none in the order of dates.
var NoDay = time.Date(10000, 1, 1, 0, 0, 0, 0, time.UTC)
