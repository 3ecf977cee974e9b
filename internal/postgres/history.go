package postgres

import (
	"context"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"meniscus/internal/record"
)

// SequenceAt gives the last sequence number that was sealed at a moment or before, 0 if there
// was none. What was believed at a moment is what stood up to that sequence number: an
// entry's time of recording is set before other transactions see it, its sequence number
// after.
//
// Sequence numbers have no gaps and their times never go back, so a binary search finds the
// sequence number, without an index on the time.
func (s Tenant) SequenceAt(ctx context.Context, at time.Time) (int64, error) {
	type one struct{ Seq int64 }
	rows, err := collect[one](ctx, s, `select `+lastSealed("<=", "$2")+` as seq`, s.institution, at)
	if err != nil || len(rows) == 0 {
		return 0, err
	}
	return rows[0].Seq, nil
}

// lastSealed is a query of one row: the last sequence number whose time compares so with a
// moment, "<" or "<=", 0 if there is none; $1 is the institution. Each step of the search looks
// at one row, by its number.
func lastSealed(compares, moment string) string {
	return `(
		with recursive half(low, high) as (
			select 0::bigint, coalesce((select seq from sequenced where institution_id = $1 order by seq desc limit 1), 0)
			union all
			select case when early then middle else low end, case when early then high else middle - 1 end
			  from half
			 cross join lateral (select (low + high + 1) / 2 as middle) as m
			 cross join lateral (select p.sealed_at ` + compares + ` ` + moment + ` as early from sequenced p
			                      where p.institution_id = $1 and p.seq = m.middle offset 0) as p
			 where low < high
		)
		select low from half where low >= high)`
}

// RecordAt gives a record's revision in force at a sequence number, nil if there was none.
func (s Tenant) RecordAt(ctx context.Context, id uuid.UUID, sequence int64) (*Row, error) {
	rows, err := collect[Row](ctx, s, `
		select `+entryColumns+`, p.seq
		  from sequenced p `+ofSequence+`
		 where p.institution_id = $1 and p.record_id = $2 and p.seq <= $3 and e.act <> 'redacted'
		 order by p.seq desc limit 1`, s.institution, id, sequence)
	if err != nil || len(rows) == 0 {
		return nil, err
	}
	return &rows[0], nil
}

// Believed is a treatment's revision at a sequence number, and a record that it may have
// been on then: the specimen's own, one that was merged into it, or one that it was part
// of. Its statement tells whether it was on that record, and before the split.
type Believed struct {
	Row
	On            uuid.UUID  `db:"on_record"`
	Because       *string    `db:"because"` // nil for the specimen's own record
	SplitEarliest *time.Time `db:"split_earliest"`
	SplitLatest   *time.Time `db:"split_latest"`
	SplitRecorded *time.Time `db:"split_recorded"`
	Within        []string   `db:"areas"`
	First         time.Time  `db:"first_recorded"`
}

// BelievedAt reads, as they stood at a sequence number, the treatments that are or once
// were on any record that was the specimen's at that sequence number. It calls tell for
// one after the other, so that only what tell keeps stays in memory.
func (s Tenant) BelievedAt(ctx context.Context, specimen uuid.UUID, sequence int64, tell func(Believed) error) error {
	return told(ctx, s, tell, `
		with family as (
			select * from family_at($1, $2, $3)
		), candidate as (
			select distinct n.treatment, f.* from family f cross join lateral (
				select t.id as treatment from treatment t where t.institution_id = $1 and t.specimen_id = f.id
				union all
				select t.id from treatment t where t.institution_id = $1 and t.joined_to_id = f.id
				union all
				select w.treatment_id from treatment_was_on w where w.institution_id = $1 and w.specimen_id = f.id
				offset 0) n
		)
		select believed.*, c.id as on_record, c.because, c.split_earliest, c.split_latest, c.split_recorded, c.areas,
		       (select o.recorded_at from entry o
		         where o.institution_id = $1 and o.record_id = c.treatment and o.revision = 1) as first_recorded
		  from candidate c
		 cross join lateral (
			select `+entryColumns+`, p.seq
			  from sequenced p `+ofSequence+`
			 where p.institution_id = $1 and p.record_id = c.treatment and p.seq <= $3 and e.act <> 'redacted'
			 order by p.seq desc limit 1) as believed
		 order by believed.record_id, c.because nulls first, c.id`, s.institution, specimen, sequence)
}

// ShelfAt gives supplies and batches and what became of them, as it stood at a sequence
// number; what they were made from is for the caller to follow. It may give more than
// that: what was amended since is included if its words at that time contain one of the
// ids.
func (s Tenant) ShelfAt(ctx context.Context, stock []uuid.UUID, sequence int64) (Shelf, error) {
	return s.collectShelf(ctx, `
		with named(part, id, amended) as (
			select '`+partMade+`', unnest($2::uuid[]), false
			union
			select n.part, n.id, n.amended from unnest($2::uuid[]) as stock(id) cross join lateral (
				select '`+partChange+`' as part, c.id, false as amended from amount_change c
				 where c.institution_id = $1 and c.batch_id = stock.id
				union all
				select '`+partChange+`', c.id, false from amount_change c where c.institution_id = $1 and c.with_batch_id = stock.id
				union all
				select '`+partTaken+`', i.batch_id, false from batch_input i where i.institution_id = $1 and i.from_batch_id = stock.id
				union all
				select '`+partTreatment+`', u.treatment_id, false from treatment_use u
				 where u.institution_id = $1 and u.batch_id = stock.id
				union all
				select w.part, w.record_id, true from batch_was_in w where w.institution_id = $1 and w.batch_id = stock.id
				offset 0) n
		)
		select x.*, count(*) over () as found, count(*) filter (where x.part = '`+partMade+`') over () as made, 0 as climbed
		  from (
		select distinct on (n.part, e.id) n.part, `+entryColumns+`, p.seq
		  from named n
		 cross join lateral (select * from entry where institution_id = $1 and record_id = n.id
		                        and revision = revision_at($1, n.id, $3) offset 0) e
		 cross join lateral (select seq from sequenced where institution_id = $1 and entry_id = e.id offset 0) p
		 where (n.part = '`+partMade+`' or e.act <> 'retracted')
		   and (not n.amended or exists (select from unnest($2::uuid[]) as asked(id)
		                                  where position(asked.id::text in e.body) > 0))
		 order by n.part, e.id) x
		 order by x.part <> '`+partMade+`', x.id, x.part limit $4`, stock, sequence, mostEntries)
}

// Dated is a treatment's row with its sequence number in the order of dates.
type Dated struct {
	Row
	Earliest time.Time `db:"day"` // NoDay if unknown
	// From is the record that it was stated about, if that is not the specimen's own.
	From    *uuid.UUID `db:"stated_about"`
	Because *string    `db:"because"`
	Certain bool       `db:"certain"`
	Within  []string   `db:"within"` // of a split: the areas that went; none where they are not known
}

// Walked is a treatment of a walk by date, without its words.
type Walked struct {
	Dated
	Began int64   `db:"began"`     // the sequence number at which the walk began
	Then  *string `db:"said_then"` // what it said at Began, if it was revised since
}

// Worded gives revisions with their words, in the order that they are asked for: as
// many as the bytes of a list allow. More tells whether there are others.
func (s Tenant) Worded(ctx context.Context, of []Dated) (rows []Dated, more bool, err error) {
	ids, revisions := make([]uuid.UUID, len(of)), make([]int, len(of))
	for i, d := range of {
		ids[i], revisions[i] = d.Record, d.Revision
	}
	found, err := collect[Row](ctx, s, boundedRows(listedWords, "e.nth", `
		select `+entryColumns+`, null::bigint as seq, n.nth
		  from unnest($2::uuid[], $3::int[]) with ordinality as n(id, revision, nth)
		  join entry e on e.institution_id = $1 and e.record_id = n.id and e.revision = n.revision`),
		s.institution, ids, revisions)
	for i, row := range found {
		rows = append(rows, of[i])
		rows[i].Row = row
	}
	return rows, len(found) < len(of), err
}

// told calls tell for each row, one after the other.
func told[T any](ctx context.Context, s Tenant, tell func(T) error, sql string, args ...any) error {
	b := newBatchByIndex(s.institution)
	queueTold(b, tell, sql, args...)
	return s.run(ctx, b)
}

func queueTold[T any](b *batch, tell func(T) error, sql string, args ...any) {
	b.Queue(sql, args...).Query(func(rows pgx.Rows) error {
		for rows.Next() {
			row, err := pgx.RowToStructByName[T](rows)
			if err == nil {
				err = tell(row)
			}
			if err != nil {
				return err
			}
		}
		return rows.Err()
	})
}

// Stand is a position in a walk through a specimen's treatments: the day and the id of the
// last one, and the sequence number at which the walk began, nil at the beginning.
type Stand struct {
	Began *int64
	Day   time.Time
	After uuid.UUID
}

// TreatmentsOf reads a specimen's treatments that are not retracted, with those that join it to
// another specimen, those of records merged into it and those that it inherited when it was split
// off. They are in order of the earliest day on which they may have happened and then of id. Those
// without a day come last.
//
// A day may be amended during the walk. Therefore every page gives all treatments that
// were revised since the walk began, with what they said when it began (the first
// statement, if it had no sequence number by then), so that the caller can put them where
// they stood. The other treatments follow from where the last page ended, at most limit
// of them. No other words are read, and tell is called for one treatment after the other. It also
// tells whether the specimen is known.
func (s Tenant) TreatmentsOf(
	ctx context.Context, specimen uuid.UUID, from Stand, limit int, tell func(Walked) error,
) (known bool, err error) {
	b := newBatchByIndex(s.institution)
	b.Queue(exists(record.KindSpecimen), s.institution, specimen).QueryRow(func(row pgx.Row) error { return row.Scan(&known) })
	queueTold(b, tell, `
		with walk as (
			select coalesce($7::bigint, (select seq from sequenced where institution_id = $1 order by seq desc limit 1), 0) as began
		), mine as materialized (
			select id, revision, coalesce(earliest, $6::date) as day,
			       case when because is not null then stated_about end as stated_about, because, certain, within, began,
			       case when revision > 1 then coalesce(revision_at($1, id, began), 1) else 1 end as stood
			  from `+treatmentsOn("$2::uuid")+` t cross join walk
		), page as (
			(select * from mine where revision = stood and (day, id) > ($3::date, $4::uuid) order by day, id limit $5)
			union all
			select * from mine where revision <> stood)
		select `+strings.Replace(entryColumns, toldBody, "null", 1)+`, null::bigint as seq, t.day, t.stated_about,
			t.because, t.certain, t.within, t.began,
			told('treatment', o.record_id, o.body) as said_then
		  from page t
		  join entry e on e.institution_id = $1 and e.record_id = t.id and e.revision = t.revision
		  left join entry o on t.stood <> t.revision and o.institution_id = $1 and o.record_id = t.id and o.revision = t.stood
		 order by t.day, t.id`, s.institution, specimen, from.Day, from.After, limit, NoDay, from.Began)
	return known, s.run(ctx, b)
}

// NoDay stands for an unknown earliest day in the order of dates.
var NoDay = time.Date(10000, 1, 1, 0, 0, 0, 0, time.UTC)
