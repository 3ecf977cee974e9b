package postgres

import (
	"context"
	"crypto/rand"
	"math"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"meniscus/internal/fault"
	"meniscus/internal/ledger"
	"meniscus/internal/record"
)

// Entry is one thing to be said about one record.
type Entry struct {
	Record   uuid.UUID
	Kind     record.Kind
	Revision int
	Act      ledger.Act
	Source   *record.Source
	// Body is the entry's words: `{"statement": …}`, `{"reason": …}` or both.
	Body []byte
	// Project brings the projections in line with the entry; nil leaves them.
	Project func(*Projector)
}

// Row is an entry as it stands in the log.
type Row struct {
	EntryID    uuid.UUID   `db:"id"`
	Kind       record.Kind `db:"kind"`
	Record     uuid.UUID   `db:"record_id"`
	Revision   int         `db:"revision"`
	Act        ledger.Act  `db:"act"`
	RequestID  uuid.UUID   `db:"request_id"`
	RecordedAt time.Time   `db:"recorded_at"`
	RecordedBy uuid.UUID   `db:"recorded_by"`
	System     *string     `db:"source_system"`
	SystemID   *string     `db:"source_id"`
	Digest     []byte      `db:"digest"`
	Body       *string     `db:"body"`
	Sequence   *int64      `db:"seq"`
}

// leaf is what the log holds of an entry with a sequence number.
func (r Row) leaf(sequence int64, sealed time.Time) ledger.Leaf {
	return ledger.Leaf{Sequence: sequence, SealedAt: sealed, Entry: r.EntryID, Kind: string(r.Kind), Record: r.Record,
		Revision: r.Revision, Act: r.Act, Request: r.RequestID, RecordedAt: r.RecordedAt, RecordedBy: r.RecordedBy,
		System: r.System, SystemID: r.SystemID, Digest: r.Digest}
}

const entryColumns = `e.id, e.kind, e.record_id, e.revision, e.act, e.request_id, e.recorded_at, e.recorded_by,
	e.source_system, e.source_id, e.digest, ` + toldBody + ` as body`

// ofSequence joins the entry of a sequence number p. It lets the entry be looked up by its own
// id alone: while Postgres has no statistics on a new institution's entries, all plans look
// equally cheap, and it may scan all of them for each sequence number.
const ofSequence = `cross join lateral (select * from entry
                                         where id = p.entry_id and institution_id = p.institution_id offset 0) e`

// queueEntry adds one entry, its projections and its ticket to a batch. A later
// revision goes after all that was queued before it, which may be an earlier
// revision of the same record.
func queueEntry(b *batch, w *Write, e Entry, stored *[]Row) {
	if e.Revision > 1 {
		b.Queue(`select not_withheld($1, $2, $3)`, b.institution, string(e.Kind), e.Record)
	}
	nonce := make([]byte, ledger.NonceSize)
	_, _ = rand.Read(nonce) // never fails
	digest, body := ledger.Digest(nonce, e.Body), string(e.Body)
	row := Row{EntryID: uuid.Must(uuid.NewV7()), Kind: e.Kind, Record: e.Record, Revision: e.Revision, Act: e.Act,
		RequestID: w.RequestID, RecordedBy: w.Person, Digest: digest[:], Body: &body}
	if e.Source != nil {
		row.System, row.SystemID = &e.Source.System, &e.Source.RecordID
	}
	*stored = append(*stored, row)
	b.put(entryTable, row.EntryID, string(e.Kind), e.Record, e.Revision, string(e.Act), w.RequestID, w.Person, row.System,
		row.SystemID, nonce, row.Digest, body).
		then = func(found pgx.Rows) error { return timeStored(*stored, found) }
	b.put(unsealedTable, row.EntryID)
	b.entries = true
	if e.Project != nil {
		e.Project(&Projector{batch: b, record: e.Record, revision: e.Revision, first: e.Revision == 1})
	}
}

// timeStored sets in the stored rows when the database recorded them.
func timeStored(stored []Row, found pgx.Rows) error {
	type moment struct {
		ID         uuid.UUID
		RecordedAt time.Time
	}
	moments, err := pgx.CollectRows(found, pgx.RowToStructByName[moment])
	at := make(map[uuid.UUID]time.Time, len(moments))
	for _, m := range moments {
		at[m.ID] = m.RecordedAt
	}
	for i := range stored {
		if t, ok := at[stored[i].EntryID]; ok {
			stored[i].RecordedAt = t
		}
	}
	return err
}

// Current gives a record's revision in force, or a fault of kind NotFound.
//
// A redaction is a revision of its own; when it blanked only earlier revisions,
// the statement in force is still the last one that stands.
func (s Tenant) Current(ctx context.Context, id uuid.UUID) (Row, error) {
	rows, err := collect[Row](ctx, s, `
		select `+entryColumns+`, p.seq
		  from entry e left join sequenced p on p.entry_id = e.id and p.institution_id = e.institution_id
		 where e.institution_id = $1 and e.record_id = $2
		 order by e.revision desc limit 1`, s.institution, id)
	if err != nil {
		return Row{}, err
	}
	if len(rows) == 0 {
		return Row{}, errNoRecord
	}
	return rows[0], nil
}

var errNoRecord = fault.Of(fault.NotFound, "record-unknown", "There is no such record in this institution.")

// InForce gives the last revision that states, amends or retracts: what a
// redaction of an earlier revision leaves standing.
func (s Tenant) InForce(ctx context.Context, id uuid.UUID) (Row, error) {
	return s.InForceBefore(ctx, id, math.MaxInt32)
}

// InForceAt is InForce as it was when the row was the record's newest revision. What was
// recorded since it was read is not mixed with it.
func (s Tenant) InForceAt(ctx context.Context, row Row) (Row, error) {
	return s.InForceBefore(ctx, row.Record, row.Revision+1)
}

// InForceBefore is InForce as it was when a revision was made.
func (s Tenant) InForceBefore(ctx context.Context, id uuid.UUID, revision int) (Row, error) {
	found, err := s.InForceBeforeEach(ctx, []uuid.UUID{id}, []int{revision})
	row, known := found[id]
	if err == nil && !known {
		err = errNoRecord
	}
	return row, err
}

// InForceBeforeEach is InForceBefore of several records, each with a revision of its own.
func (s Tenant) InForceBeforeEach(ctx context.Context, ids []uuid.UUID, revisions []int) (map[uuid.UUID]Row, error) {
	found := make(map[uuid.UUID]Row, len(ids))
	if len(ids) == 0 {
		return found, nil
	}
	rows, err := collect[Row](ctx, s, `
		select e.* from unnest($2::uuid[], $3::int[]) w(id, revision) cross join lateral (
			select `+entryColumns+`, null::bigint as seq from entry e
			 where e.institution_id = $1 and e.record_id = w.id and e.act <> 'redacted' and e.revision < w.revision
			 order by e.revision desc limit 1) e`, s.institution, ids, revisions)
	for _, row := range rows {
		found[row.Record] = row
	}
	return found, err
}

// Revisions gives the revisions of a record after one, oldest first, each with its sequence number
// once it has one: a page, and whether there may be more.
func (s Tenant) Revisions(ctx context.Context, id uuid.UUID, after int) (page []Row, more bool, err error) {
	const limit = 10_000
	rows, err := collect[Row](ctx, s, boundedRows(listedWords, "e.revision", `
		select `+entryColumns+`, p.seq
		  from entry e left join sequenced p on p.entry_id = e.id and p.institution_id = e.institution_id
		 where e.institution_id = $1 and e.record_id = $2 and e.revision > $3
		 order by e.revision limit $4`), s.institution, id, after, limit+1)
	if err == nil && len(rows) == 0 && after == 0 {
		err = errNoRecord
	}
	page, more = cut(rows, limit, listedWords)
	return page, more, err
}

// Revision gives one revision of a record, with its sequence number once it has one, or nil, and
// how many there are.
func (s Tenant) Revision(ctx context.Context, id uuid.UUID, revision int) (found *Row, last int, err error) {
	rows, err := collect[Row](ctx, s, `
		select `+entryColumns+`, p.seq
		  from entry e left join sequenced p on p.entry_id = e.id and p.institution_id = e.institution_id
		 where e.institution_id = $1 and e.record_id = $2 and e.revision = $3`, s.institution, id, revision)
	if err != nil || len(rows) > 0 {
		return first(rows), revision, err
	}
	current, err := s.Current(ctx, id)
	return nil, current.Revision, err
}

// Acts gives every revision of a record, oldest first, without its words.
func (s Tenant) Acts(ctx context.Context, id uuid.UUID) ([]Row, error) {
	return collect[Row](ctx, s, `
		select e.id, e.kind, e.record_id, e.revision, e.act, e.request_id, e.recorded_at, e.recorded_by,
		       e.source_system, e.source_id, e.digest, null::text as body, null::bigint as seq
		  from entry e where e.institution_id = $1 and e.record_id = $2 order by e.revision limit 10000`, s.institution, id)
}

// LastSaid gives the last revision that says what a record is, without words where
// these were redacted; nil if there is none.
func (s Tenant) LastSaid(ctx context.Context, id uuid.UUID) (*Row, error) {
	rows, err := collect[Row](ctx, s, `
		select `+entryColumns+`, p.seq
		  from entry e left join sequenced p on p.entry_id = e.id and p.institution_id = e.institution_id
		 where e.institution_id = $1 and e.record_id = $2 and e.act in ('stated', 'amended')
		 order by e.revision desc limit 1`, s.institution, id)
	return first(rows), err
}

func first(rows []Row) *Row {
	if len(rows) == 0 {
		return nil
	}
	return &rows[0]
}

// Cursor is a sequence number in an institution's order and the entry that stands there;
// the zero Cursor is the beginning.
type Cursor struct {
	Sequence int64
	Entry    uuid.UUID
}

// Changes gives the entries after a cursor, in order: a page of at most limit, fewer where they
// are large. The cursor stands if its entry has its sequence number; after a restore it may
// not, and then what follows it is not to be used. Both are read in one transaction.
func (s Tenant) Changes(ctx context.Context, after Cursor, limit int) (rows []Row, stands bool, err error) {
	return s.changes(ctx, after, limit, listedWords)
}

// Streamed gives changes as a stream sends them, and whether there may be more.
func (s Tenant) Streamed(ctx context.Context, after Cursor, limit int) (rows []Row, more, stands bool, err error) {
	rows, stands, err = s.changes(ctx, after, limit+1, streamedWords)
	rows, more = cut(rows, limit, streamedWords)
	return rows, more, stands, err
}

func (s Tenant) changes(ctx context.Context, after Cursor, limit, most int) (rows []Row, stands bool, err error) {
	type one struct{ Found bool }
	var found []one
	b := newBatch(s.institution)
	queue(b, &found, `
		select $2 = 0 or exists (select from sequenced where institution_id = $1 and seq = $2 and entry_id = $3) as found`,
		s.institution, after.Sequence, after.Entry)
	queue(b, &rows, boundedRows(most, "e.seq", `
		select `+entryColumns+`, p.seq
		  from sequenced p `+ofSequence+`
		 where p.institution_id = $1 and p.seq > $2
		 order by p.seq limit $3`), s.institution, after.Sequence, limit)
	if err := s.run(ctx, b); err != nil {
		return nil, false, err
	}
	return rows, found[0].Found, nil
}

// LastSequence is the newest sequence number in an institution's order, 0 before the first.
func (s Tenant) LastSequence(ctx context.Context) (int64, error) {
	type one struct{ Seq int64 }
	rows, err := collect[one](ctx, s,
		`select coalesce(max(seq), 0) as seq from sequenced where institution_id = $1`, s.institution)
	if err != nil {
		return 0, err
	}
	return rows[0].Seq, nil
}
