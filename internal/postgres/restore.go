package postgres

import (
	"context"
	"errors"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"

	"meniscus/internal/fault"
	"meniscus/internal/ledger"
	"meniscus/internal/record"
)

// Restored is an entry of an export, and the function that brings the projections in
// line with it; nil leaves them.
type Restored struct {
	Exported
	Project func(*Projector)
}

// Restoration restores an institution's record from an export, in one transaction.
type Restoration struct {
	tx          pgx.Tx
	institution uuid.UUID
	log         ledger.Tree
}

// errNotEmpty refuses to restore into an institution that has entries.
var errNotEmpty = fault.Of(fault.Conflict, "institution-not-empty",
	"Something is recorded in this institution already. An export is restored into an institution that was founded for "+
		"it and has recorded nothing.")

// Restore fills an empty institution from an export. What work puts in is committed,
// with the sequence numbers that it had, when work returns no error; otherwise nothing
// is.
func (s Tenant) Restore(ctx context.Context, work func(*Restoration) error) error {
	err := s.begin(ctx, func(tx pgx.Tx) error {
		r := &Restoration{tx: tx, institution: s.institution}
		if err := r.begin(ctx); err != nil {
			return err
		}
		if err := work(r); err != nil {
			return err
		}
		return r.sequence(ctx)
	})
	return translate(ctx, refused(err))
}

func (r *Restoration) run(ctx context.Context, b *batch) error {
	return r.tx.SendBatch(ctx, b.within(ctx)).Close()
}

func (r *Restoration) begin(ctx context.Context) error {
	type one struct{ Found bool }
	var rows []one
	b := newBatch(r.institution)
	b.Queue(`set constraints all deferred`)
	queue(b, &rows, `select exists (select from entry where institution_id = $1)
		or exists (select from rule_tuning where institution_id = $1)
		or exists (select from collection_body where institution_id = $1) as found`, r.institution)
	if err := r.run(ctx, b); err != nil {
		return err
	}
	if rows[0].Found {
		return errNotEmpty
	}
	return nil
}

// Put restores entries in order of sequence. Where one of them is refused, at is its
// index: they are put in together, table by table, and after a refusal again one by
// one, to find which it was.
func (r *Restoration) Put(ctx context.Context, entries []Restored) (at int, err error) {
	for i, e := range entries {
		if entries[i].Hashes, err = r.log.Add(e.Leaf().Hash()); err != nil {
			return i, err
		}
	}
	err = pgx.BeginFunc(ctx, r.tx, func(pgx.Tx) error { return r.put(ctx, entries) })
	if err == nil {
		return len(entries), nil
	}
	for i := range entries {
		if err := r.put(ctx, entries[i:i+1]); err != nil {
			return i, refused(err)
		}
	}
	return 0, refused(err)
}

func (r *Restoration) put(ctx context.Context, entries []Restored) error {
	b := newBatch(r.institution)
	for _, e := range entries {
		r.queue(b, e)
	}
	return r.run(ctx, b)
}

// errNoPredecessor refuses a revision whose predecessor is missing.
var errNoPredecessor = fault.New("revision-missing", "", "The revision before this one is not in the export, "+
	"or it is of a record of another kind.")

// queue adds one entry. A later revision goes after all that was queued before
// it, and only if the one before it is there.
func (r *Restoration) queue(b *batch, e Restored) {
	if e.Revision == 1 {
		b.put(restoredEntryTable, e.EntryID, string(e.Kind), e.Record, e.Revision, string(e.Act), e.RequestID, e.RecordedAt,
			e.RecordedBy, e.System, e.SystemID, e.Nonce, e.Digest, e.Body)
	} else {
		r.queueLater(b, e)
	}
	b.put(restoredSequenceTable, *e.Sequence, e.EntryID, e.Record, e.SealedAt, e.Hashes)
	if e.Project != nil {
		e.Project(&Projector{
			batch: b, record: e.Record, revision: e.Revision, first: e.Revision == 1, recorded: &e.RecordedAt,
		})
	}
}

func (r *Restoration) queueLater(b *batch, e Restored) {
	b.Queue(`
		insert into entry (institution_id, id, kind, record_id, revision, act, request_id, recorded_at, recorded_by,
		                   source_system, source_id, nonce, digest, body)
		select $1::uuid, $2::uuid, $3::text, $4::uuid, $5::int, $6::text, $7::uuid, $8::timestamptz, $9::uuid, $10::text,
		       $11::text, $12::bytea, $13::bytea, $14::text
		 where exists (select from entry where institution_id = $1 and record_id = $4 and revision = $5 - 1 and kind = $3)`,
		r.institution, e.EntryID, e.Kind, e.Record, e.Revision, e.Act, e.RequestID, e.RecordedAt, e.RecordedBy, e.System,
		e.SystemID, e.Nonce, e.Digest, e.Body,
	).Exec(func(tag pgconn.CommandTag) error {
		if tag.RowsAffected() == 0 {
			return errNoPredecessor
		}
		return nil
	})
}

// Choose restores a choice of the institution's own severities.
func (r *Restoration) Choose(ctx context.Context, c ChosenSeverity) error {
	b := newBatch(r.institution)
	b.Queue(`insert into rule_tuning (institution_id, rule, id, severity, reason, chosen_by, chosen_at)
		values ($1, $2, $3, $4, $5, $6, $7)`,
		r.institution, c.Rule, c.ID, c.Severity, c.Reason, c.By, c.At)
	return refused(r.run(ctx, b))
}

// sequence assigns every entry its sequence number.
func (r *Restoration) sequence(ctx context.Context) error {
	b := newBatch(r.institution)
	b.Queue(`set constraints all immediate`)
	b.Queue(`select sequence_restored($1)`, r.institution)
	return r.run(ctx, b)
}

// refused makes a fault of an entry that violates a constraint.
func refused(err error) error {
	var pg *pgconn.PgError
	if !errors.As(err, &pg) {
		return err
	}
	switch {
	case pg.Code == checkViolation && pg.ConstraintName == "restored_into_empty":
		return errNotEmpty
	case pg.Code == lockNotAvailable:
		return fault.Of(fault.Busy, "restoration-at-work", "This institution is being restored by another request.")
	case pg.Code == uniqueViolation:
		return fault.New("line-repeats", "", "This entry, its revision or its source record is in the export twice, "+
			"or was recorded meanwhile.")
	case pg.Code == foreignKeyViolation:
		return fault.New("record-missing", "", "Something in the export names a record that is not in it.")
	case pg.Code[:2] == "22" || pg.Code[:2] == "23":
		return fault.New("line-unreadable", "", "This entry cannot be kept as it stands here.")
	}
	return err
}

// Remain restores what the projections held of a record whose words were redacted, and
// removes what earlier words projected, unless the entry was a retraction, which
// removed nothing.
func (p *Projector) Remain(kind record.Kind, remains *string, retraction bool) {
	p.wasIn(kind)
	for _, table := range projections[kind] {
		if table[0] != kinds[kind].name && table[0] != "specimen_stood" && !retraction {
			p.clear(table[0], table[1])
		}
	}
	if remains != nil {
		p.batch.Queue(`select put_remains($1, $2, $3, $4)`, p.batch.institution, string(kind), p.record, *remains)
	}
}
