package postgres

import (
	"context"

	"github.com/google/uuid"

	"meniscus/internal/record"
)

// RecordOf is a record with its kind.
type RecordOf struct {
	ID   uuid.UUID   `db:"id"`
	Kind record.Kind `db:"kind"`
}

// HistoryRecords gives the records that a specimen's history begins with: its
// own, those that were merged into it, its treatments, inherited ones among them, and
// the plans for it.
func (s Tenant) HistoryRecords(ctx context.Context, specimen uuid.UUID) ([]RecordOf, error) {
	return collect[RecordOf](ctx, s, `
		select id, 'specimen' as kind from records_of($1, $2) as id
		union
		select t.id, 'treatment' from treatments_on($1, $2) t
		union
		select p.id, 'plan' from records_of($1, $2) as r(id) cross join lateral (
			select id from plan where institution_id = $1 and specimen_id = r.id
			union all
			select id from plan where institution_id = $1 and joined_to_id = r.id offset 0) p`, s.institution, specimen)
}

// RecordsAmong gives those of the ids that are records, and the amount changes
// of those that are batches.
func (s Tenant) RecordsAmong(ctx context.Context, ids []uuid.UUID) ([]RecordOf, error) {
	return collect[RecordOf](ctx, s, `
		select record_id as id, kind from entry where institution_id = $1 and record_id = any($2) and revision = 1
		union
		select id, 'amount-change' from amount_change where institution_id = $1 and batch_id = any($2)`, s.institution, ids)
}

// MadeFrom gives what supplies and batches were made from or topped up with, to any
// depth, up to the limit, in one query.
func (s Tenant) MadeFrom(ctx context.Context, stock []uuid.UUID) ([]RecordOf, error) {
	return collect[RecordOf](ctx, s, upstream+`
		select b.id, 'batch' as kind from up join batch b on b.institution_id = $1 and b.id = up.id
		union all
		select s.id, 'supply' from up join supply s on s.institution_id = $1 and s.id = up.id`, s.institution, stock)
}

// ExportOf gives the entries of some records, as Export does.
func (s Tenant) ExportOf(
	ctx context.Context, records []uuid.UUID, after, upto int64, limit int,
) ([]Exported, bool, error) {
	return s.exported(ctx, `p.seq > $3 and p.seq <= $4 and p.record_id = any($5)`, limit, after, upto, records)
}

// Trace identifies a revision in every institution that received it, by the digest with
// which it was recorded first.
type Trace struct {
	Record   uuid.UUID   `db:"record_id"`
	Kind     record.Kind `db:"kind"`
	Revision int         `db:"revision"`
	Digest   string      `db:"first_digest"`
}

// TracesOf gives every revision of some records, oldest first, without its words;
// at most limit.
func (s Tenant) TracesOf(ctx context.Context, records []uuid.UUID, limit int) ([]Trace, error) {
	return collect[Trace](ctx, s, `
		select e.record_id, e.kind, e.revision,
		       coalesce(case when e.body ^@ '{"receivedFrom":' then e.body::jsonb #>> '{receivedFrom,digest}' end,
		                encode(e.digest, 'hex')) as first_digest
		  from entry e
		 where e.institution_id = $1 and e.record_id = any($2) order by e.record_id, e.revision limit $3`,
		s.institution, records, limit)
}

// LastStatement gives the last revision of a record that has a statement, nil if
// none has.
func (s Tenant) LastStatement(ctx context.Context, id uuid.UUID) (*Row, error) {
	rows, err := collect[Row](ctx, s, `
		select `+entryColumns+`, null::bigint as seq from entry e
		 where e.institution_id = $1 and e.record_id = $2 and e.body is not null and e.body::jsonb ? 'statement'
		 order by e.revision desc limit 1`, s.institution, id)
	if err != nil || len(rows) == 0 {
		return nil, err
	}
	return &rows[0], nil
}
