package postgres

import (
	"context"
	"strconv"
	"time"

	"github.com/google/uuid"

	"meniscus/internal/ledger"
	"meniscus/internal/record"
)

// Exported is an entry with everything that is needed to restore it.
type Exported struct {
	Fact
	SealedAt time.Time `db:"sealed_at"`
	// Remains is what the projections hold of a record, as JSON, where the entry's own
	// words were redacted.
	Remains *string `db:"remains"`
	// Hashes is what the log keeps with its leaf, nil before it is in the log.
	Hashes []byte `db:"hashes"`
}

// Leaf is what the log holds of it.
func (x Exported) Leaf() ledger.Leaf { return x.leaf(*x.Sequence, x.SealedAt) }

// size is how many bytes its words have, or what is left of them.
func (x Exported) size() int {
	if x.Remains != nil {
		return len(*x.Remains)
	}
	return x.Row.size()
}

// Limits of a page's words in bytes. A page ends with the entry that reaches its limit.
const (
	exportedWords = 8 << 20
	listedWords   = 4 << 20 // of a list, which is held as rows and as an answer
	streamedWords = 1 << 20 // of a stream, which holds them while its reader is slow
)

// bounded keeps the first rows of a query, in an order: up to the row with which their
// words reach most bytes.
func bounded(most int, columns, words, order, rows string) string {
	return `
		select ` + columns + ` from (
			select e.*, coalesce(sum(octet_length(` + words + `)) over before, 0) as words_before from (` + rows + `) e
			window before as (order by ` + order + ` rows between unbounded preceding and 1 preceding)) e
		 where e.words_before < ` + strconv.Itoa(most) + ` order by ` + order
}

// boundedRows are rows of entries as a page of a list.
func boundedRows(most int, order, rows string) string {
	return bounded(most, entryColumns+", e.seq", "e.body", order, rows)
}

// cut makes a page of bounded rows, of which there are at most limit + 1, and tells
// whether there may be others.
func cut(rows []Row, limit, most int) (page []Row, more bool) {
	if len(rows) > limit {
		return rows[:limit], true
	}
	words := 0
	for _, row := range rows {
		words += row.size()
	}
	return rows, words >= most
}

// exported gives a page of the sequence numbers p and their entries e that meet a condition,
// in order, at most limit; more tells whether there may be others. Its arguments begin at $3.
func (s Tenant) exported(
	ctx context.Context, condition string, limit int, args ...any,
) (page []Exported, more bool, err error) {
	page, err = collect[Exported](ctx, s, bounded(exportedWords,
		entryColumns+", e.seq, e.nonce, e.sealed_at, e.remains, e.hashes", "coalesce(e.body, e.remains)", "e.seq", `
			select `+entryColumns+`, p.seq, e.nonce, p.sealed_at, case when e.body is null
			       then remains_of(e.institution_id, e.kind, e.record_id)::text end as remains,
			       (select l.hashes from log_leaf l where l.institution_id = p.institution_id and l.seq = p.seq) as hashes
			  from sequenced p `+ofSequence+`
			 where p.institution_id = $1 and `+condition+`
			 order by p.seq limit $2`), append([]any{s.institution, limit}, args...)...)
	words := 0
	for _, x := range page {
		words += x.size()
	}
	return page, len(page) == limit || words >= exportedWords, err
}

// Export gives the entries after a sequence number, up to another, in order: a page of at most
// limit, and whether there may be more.
func (s Tenant) Export(ctx context.Context, after, upto int64, limit int) ([]Exported, bool, error) {
	return s.exported(ctx, `p.seq > $3 and p.seq <= $4`, limit, after, upto)
}

// ExportStanding gives the revisions in force of the records of one kind, in the order
// of sequence, as Export does. A redaction is never the revision in force.
func (s Tenant) ExportStanding(
	ctx context.Context, kind record.Kind, after, upto int64, limit int,
) ([]Exported, bool, error) {
	return s.exported(ctx, `p.seq > $3 and p.seq <= $4 and e.kind = $5 and e.act <> 'redacted'
		and not exists (select from entry n where n.institution_id = e.institution_id and n.record_id = e.record_id
		                   and n.revision > e.revision and n.act <> 'redacted')`, limit, after, upto, kind)
}

// ChosenSeverity is a choice of an institution's own severities, with its id.
type ChosenSeverity struct {
	ID uuid.UUID `db:"id"`
	RuleTuning
}

// ChosenSeverities gives every choice that was ever made, in the order of their
// ids, after one.
func (s Tenant) ChosenSeverities(ctx context.Context, after uuid.UUID, limit int) ([]ChosenSeverity, error) {
	return collect[ChosenSeverity](ctx, s, `
		select id, rule, severity, reason, chosen_by, chosen_at from rule_tuning
		 where institution_id = $1 and id > $2 order by id limit $3`, s.institution, after, limit)
}
