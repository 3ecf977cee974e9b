package postgres

import (
	"context"
	"errors"
	"iter"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"

	"meniscus/internal/access"
	"meniscus/internal/fault"
	"meniscus/internal/ledger"
	"meniscus/internal/record"
)

// RequestKey is an Idempotency-Key as it is kept: a digest of its scope and
// text, and a digest of what was asked with it.
type RequestKey struct {
	Digest      [32]byte
	Fingerprint [32]byte
}

// Write is what one request records, all or nothing.
type Write struct {
	Person    uuid.UUID // the author
	RequestID uuid.UUID
	Key       *RequestKey
	// Entries are first those that the request only implies, such as a person by name,
	// and then what it is about: the last entry, or several that are made together.
	Entries []Entry
	// Together tells that the request is about several entries; it then has a request
	// key.
	Together bool
	// Claims are the numbers under which it registers specimens.
	Claims []Claim
	// Beside is asked just before anything is written.
	Beside Question
}

// about is the entry that the request is about, or the last of them.
func (w Write) about() Entry { return w.Entries[len(w.Entries)-1] }

// Written is what a write made, or what an earlier one with the same identity
// made, as it stands now.
type Written struct {
	Rows     []Row
	Replayed bool
	Beside   Beside // unless it is replayed
}

// Write stores a request's entries with their projections and tickets in one
// batch.
//
// A create that was made before (by source id, by the caller's id, by request key, in
// that order) with the same content is replayed: its record is given as it stands. The
// same identity with other content is a Conflict, which names the record; the same key
// with other content is Invalid; the same key at work elsewhere is Busy. A revision
// that another request made first is Stale. A number that another request registered since
// it was looked up is ErrNumberMeanwhile.
func (s Tenant) Write(ctx context.Context, w Write) (Written, error) {
	b := newBatch(s.institution)
	found := queueBeside(b, w.Beside) // before anything is locked
	if w.Key != nil {
		b.Queue(`insert into request_key (institution_id, key_sha256, fingerprint, request_id) values ($1, $2, $3, $4)`,
			s.institution, w.Key.Digest[:], w.Key.Fingerprint[:], w.RequestID)
	}
	queueClaims(b, w.Claims)
	var rows []Row
	for _, e := range w.Entries {
		queueEntry(b, &w, e, &rows)
	}
	err := s.run(ctx, b)
	if err == nil {
		return Written{Rows: rows, Beside: *found}, nil
	}
	if sameAtWork(err) {
		return Written{}, fault.Of(fault.Busy, "request-at-work", "The same request is being worked on; "+
			"send it again in a moment.")
	}
	if constraint, ok := violated(err, checkViolation); ok && constraint == "specimen_merge" {
		return Written{}, errNoSurvivor
	}
	if constraint, ok := violated(err, uniqueViolation); ok {
		return s.settle(ctx, w, constraint)
	}
	return Written{}, err
}

// WriteEach is Write for the many entries of another institution, which may name
// records that come after them. They come in chunks, of which one is in memory at a
// time. It fails as Busy if another request records one of them meanwhile.
func (s Tenant) WriteEach(ctx context.Context, w Write, chunks iter.Seq2[[]Entry, error]) error {
	err := s.begin(ctx, func(tx pgx.Tx) error {
		for entries, err := range chunks {
			if err == nil {
				err = s.writeChunk(ctx, tx, w, entries)
			}
			if err != nil {
				return err
			}
		}
		_, err := tx.Exec(ctx, `set constraints all immediate`)
		return err
	})
	_, doubled := violated(err, uniqueViolation)
	_, missing := violated(err, foreignKeyViolation)
	switch {
	case err == nil && s.wrote != nil:
		s.wrote()
	case missing:
		return fault.New("record-missing", "", "Something names a record that is not here and not sent with it.")
	case doubled || sameAtWork(err):
		return errAtWork
	}
	return translate(ctx, refused(err))
}

func (s Tenant) writeChunk(ctx context.Context, tx pgx.Tx, w Write, entries []Entry) error {
	b := newBatch(s.institution)
	b.Queue(`set constraints all deferred`)
	var rows []Row
	for _, e := range entries {
		queueEntry(b, &w, e, &rows)
	}
	return tx.SendBatch(ctx, b.within(ctx)).Close()
}

// errAtWork says that another request is recording the same at this moment.
var errAtWork = fault.Of(fault.Busy, "request-at-work", "The same thing is being recorded by another request; "+
	"send it again in a moment.")

// sameAtWork tells whether a write waited for another one that records the same. The
// server's message names the row that it waited for; for a locked table it names none.
func sameAtWork(err error) bool {
	var pg *pgconn.PgError
	return errors.As(err, &pg) && pg.Code == lockNotAvailable && pg.Where != ""
}

// settle finds out what a unique violation means.
func (s Tenant) settle(ctx context.Context, w Write, constraint string) (Written, error) {
	if w.about().Revision > 1 && constraint == "entry_revision" {
		return Written{}, fault.Of(fault.Stale, "record-changed", "The record was changed meanwhile; "+
			"read it again and decide.")
	}
	if w.about().Revision > 1 && w.Key != nil && constraint == "request_key_pkey" {
		return Written{}, errAtWork // AmendedBefore finds it from now on
	}
	found, err := s.SaidBefore(ctx, w)
	if err != nil {
		return Written{}, err
	}
	switch {
	case found != nil:
		return *found, nil
	case constraint == "number_claimed":
		return Written{}, ErrNumberMeanwhile
	}
	return Written{}, errAtWork
}

// SaidBefore gives what an earlier create with the same identity made, or nil; a fault
// if its content was different.
func (s Tenant) SaidBefore(ctx context.Context, w Write) (*Written, error) {
	looks := []func(context.Context, Write) (*Written, error){s.bySource, s.byCallersID, s.byKey}
	if w.Together {
		looks = []func(context.Context, Write) (*Written, error){s.byKey, s.byCallersID}
	}
	for _, look := range looks {
		if found, err := look(ctx, w); err != nil || found != nil {
			return found, err
		}
	}
	return nil, nil
}

func (s Tenant) bySource(ctx context.Context, w Write) (*Written, error) {
	e := w.about()
	if e.Source == nil {
		return nil, nil
	}
	return s.replayFirst(ctx, w, "source-record-differs",
		"This source record was recorded before with other content; amend that record, or say with "+
			"POST /v1/source-records how it stands now.", `
		select `+entryColumns+`, null::bigint as seq
		  from source_record r cross join lateral (`+firstOfSource("*")+`) e
		 where r.institution_id = $1 and r.source_system = $2 and r.source_id = $3 and r.kind = $4`,
		s.institution, e.Source.System, e.Source.RecordID, e.Kind)
}

func (s Tenant) byCallersID(ctx context.Context, w Write) (*Written, error) {
	ids := make([]uuid.UUID, len(w.Entries))
	for i, e := range w.Entries {
		ids[i] = e.Record
	}
	return s.replayFirst(ctx, w, "id-taken", "A record with this id exists with other content; "+
		"choose another id, or amend that record.", `
		select `+entryColumns+`, null::bigint as seq from entry e
		 where e.institution_id = $1 and e.record_id = any($2) and e.revision = 1 order by e.id limit 1`, s.institution, ids)
}

// replayFirst replays the making of a record, if it was made alone and said the same.
func (s Tenant) replayFirst(ctx context.Context, w Write, code, detail, sql string, args ...any) (*Written, error) {
	rows, err := collect[Row](ctx, s, sql, args...)
	if err != nil || len(rows) == 0 {
		return nil, err
	}
	if w.Together || !saysTheSame(rows[0], w.about()) {
		return nil, &fault.Fault{Kind: fault.Conflict, Code: code, Detail: detail,
			Extra: map[string]any{"record": rows[0].Record}}
	}
	return s.replay(ctx, rows[0].Record)
}

// saysTheSame compares what was recorded with what is to be recorded: what a source
// sent by its digest, because names may mean other people by now. Redacted words cannot
// be compared, and then the identity decides.
func saysTheSame(row Row, e Entry) bool {
	if row.Kind != e.Kind || row.Body == nil {
		return row.Kind == e.Kind
	}
	was, before := ledger.SaidBySource(*row.Body)
	is, now := ledger.SaidBySource(string(e.Body))
	return was != "" && was == is || before == now
}

func (s Tenant) byKey(ctx context.Context, w Write) (*Written, error) {
	if w.Key == nil {
		return nil, nil
	}
	requestID, err := s.requestOf(ctx, *w.Key)
	if err != nil || requestID == uuid.Nil {
		return nil, err
	}
	made, err := collect[idRow](ctx, s, `
		select record_id as id from entry where institution_id = $1 and request_id = $2 and revision = 1 order by entry.id`,
		s.institution, requestID)
	if err != nil || len(made) == 0 {
		return nil, err
	}
	records := make([]uuid.UUID, len(made))
	for i, m := range made {
		records[i] = m.ID
	}
	return s.replay(ctx, records...)
}

// AmendedBefore gives the revision of a record that an earlier request with the same key
// made, or nil; a fault if that request asked for something else.
func (s Tenant) AmendedBefore(ctx context.Context, record uuid.UUID, key RequestKey) (*Row, error) {
	requestID, err := s.requestOf(ctx, key)
	if err != nil || requestID == uuid.Nil {
		return nil, err
	}
	rows, err := collect[Row](ctx, s, `
		select `+entryColumns+`, null::bigint as seq from entry e
		 where e.institution_id = $1 and e.record_id = $2 and e.request_id = $3`, s.institution, record, requestID)
	if err != nil || len(rows) == 0 {
		return nil, err
	}
	return &rows[0], nil
}

// KeyUsed tells whether a request used the key.
func (s Tenant) KeyUsed(ctx context.Context, digest [32]byte) (bool, error) {
	type one struct{ Used bool }
	rows, err := collect[one](ctx, s,
		`select exists (select from request_key where institution_id = $1 and key_sha256 = $2) as used`,
		s.institution, digest[:])
	return err == nil && rows[0].Used, err
}

// requestOf gives the request that used a key, the zero UUID if none did, or a
// fault if it asked for something else.
func (s Tenant) requestOf(ctx context.Context, key RequestKey) (uuid.UUID, error) {
	type used struct {
		Fingerprint []byte
		RequestID   uuid.UUID
	}
	rows, err := collect[used](ctx, s,
		`select fingerprint, request_id from request_key where institution_id = $1 and key_sha256 = $2`,
		s.institution, key.Digest[:])
	if err != nil || len(rows) == 0 {
		return uuid.Nil, err
	}
	if [32]byte(rows[0].Fingerprint) != key.Fingerprint {
		return uuid.Nil, fault.Of(fault.Invalid, "idempotency-key-reused",
			"This Idempotency-Key was used for another request; choose a new one for each request.")
	}
	return rows[0].RequestID, nil
}

// replay gives records that a request made, in their present state.
func (s Tenant) replay(ctx context.Context, records ...uuid.UUID) (*Written, error) {
	rows, err := s.Newest(ctx, records...)
	return &Written{Rows: rows, Replayed: true}, err
}

// Newest gives the newest revisions of records, in their order; unknown ones are left out.
func (s Tenant) Newest(ctx context.Context, records ...uuid.UUID) ([]Row, error) {
	return collect[Row](ctx, s, `
		select `+entryColumns+`, null::bigint as seq
		  from unnest($2::uuid[]) with ordinality as r(id, nth)
		 cross join lateral (select * from entry where institution_id = $1 and record_id = r.id
		                      order by revision desc limit 1) e
		 order by r.nth`, s.institution, records)
}

// Redact records that the words of revisions are removed, and removes them, in one
// batch. The digests and the sequence numbers stay. A person of whom nothing is left to
// read is shut out: their keys, tokens and sessions open nothing more.
func (s Tenant) Redact(ctx context.Context, w Write, entries []uuid.UUID) (Written, error) {
	b := newBatch(s.institution)
	var rows []Row
	for _, e := range w.Entries {
		queueEntry(b, &w, e, &rows)
		if e.Kind == record.KindPerson && e.Project != nil {
			b.logIf(`exists (select from access_key where institution_id = $1 and person_id = $8 and `+valid+`)`,
				access.Access{What: access.KeyRevoked, Times: 1, Person: w.Person, Record: e.Record}, e.Record)
			b.Queue(`select shut_out($1, $2)`, s.institution, e.Record)
		}
	}
	b.flush()
	for _, id := range entries {
		b.Queue(`select redact($1, $2)`, s.institution, id)
	}
	err := s.run(ctx, b)
	if constraint, ok := violated(err, uniqueViolation); ok && constraint == "entry_revision" {
		return Written{}, fault.Of(fault.Stale, "record-changed", "The record was changed meanwhile; "+
			"read it again and decide.")
	}
	return Written{Rows: rows}, err
}

// queueInto is queue that calls then with the rows.
func queueInto[T any](b *batch, then func([]T), into *[]T, sql string, args ...any) {
	b.Queue(sql, args...).Query(func(rows pgx.Rows) error {
		found, err := pgx.CollectRows(rows, pgx.RowToStructByName[T])
		*into = found
		if err == nil {
			then(found)
		}
		return err
	})
}

// Primary gives the row about the record that the request is about.
func (w Written) Primary() Row { return w.Rows[len(w.Rows)-1] }

// OfKind gives the rows of one kind, in the order in which they were written.
func (w Written) OfKind(kind record.Kind) []Row {
	var rows []Row
	for _, row := range w.Rows {
		if row.Kind == kind {
			rows = append(rows, row)
		}
	}
	return rows
}
