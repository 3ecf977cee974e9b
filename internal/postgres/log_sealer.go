package postgres

import (
	"context"
	"fmt"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"golang.org/x/mod/sumdb/tlog"

	"meniscus/internal/ledger"
)

// behindMost is how many institutions, beside those of the round, a round looks at whose
// entries are not in their logs.
const behindMost = 20

// unlogged is an entry with a sequence number that is not in its institution's log.
type unlogged struct {
	InstitutionID uuid.UUID `db:"institution_id"`
	Logged        int64     `db:"logged"` // how many entries are in the log
	SealedAt      time.Time `db:"sealed_at"`
	Row
}

// logging adds entries to the logs of institutions, in a transaction of the sealer.
type logging struct {
	tx    pgx.Tx
	trees map[uuid.UUID]*ledger.Tree
	gap   error // an entry is missing before it was logged
}

// logEntries adds the next entries of some institutions to their logs, and with behind
// those of others that lag; at most sealMost, and gives how many. An institution of which
// an entry is missing is left as it is, and reported in gap.
func logEntries(ctx context.Context, tx pgx.Tx, institutions []uuid.UUID, behind bool) (added int, gap, err error) {
	l := logging{tx: tx, trees: map[uuid.UUID]*ledger.Tree{}}
	if behind {
		lag, err := scan[idRow](ctx, tx, logsBehind, behindMost)
		if err != nil {
			return 0, nil, err
		}
		for _, row := range lag {
			institutions = append(institutions, row.ID)
		}
	}
	if len(institutions) == 0 {
		return 0, nil, nil
	}
	entries, err := scan[unlogged](ctx, tx, notLogged, institutions, sealMost)
	if err != nil || len(entries) == 0 {
		return 0, nil, err
	}
	if err := l.open(ctx, entries); err != nil {
		return 0, nil, err
	}
	added, err = l.add(ctx, entries)
	return added, l.gap, err
}

// open reads the edges of the logs that the entries go into.
func (l *logging) open(ctx context.Context, entries []unlogged) error {
	size := map[uuid.UUID]int64{}
	var institutions []uuid.UUID
	var sequences []int64
	for _, e := range entries {
		if _, known := size[e.InstitutionID]; known {
			continue
		}
		size[e.InstitutionID] = e.Logged
		for _, stored := range ledger.Edge(e.Logged) {
			sequence, _ := ledger.Place(stored)
			institutions, sequences = append(institutions, e.InstitutionID), append(sequences, sequence)
		}
	}
	type kept struct {
		InstitutionID uuid.UUID `db:"institution_id"`
		Seq           int64     `db:"seq"`
		Hashes        []byte    `db:"hashes"`
	}
	rows, err := scan[kept](ctx, l.tx, `
		select l.institution_id, l.seq, l.hashes
		  from unnest($1::uuid[], $2::bigint[]) w(institution_id, seq)
		 cross join lateral (select * from log_leaf
		                      where institution_id = w.institution_id and seq = w.seq offset 0) l`,
		institutions, sequences)
	if err != nil {
		return err
	}
	edges := map[uuid.UUID]map[int64][]byte{}
	for _, row := range rows {
		if edges[row.InstitutionID] == nil {
			edges[row.InstitutionID] = map[int64][]byte{}
		}
		edges[row.InstitutionID][row.Seq] = row.Hashes
	}
	for institution, n := range size {
		hashes, err := hashesOf(ledger.Edge(n), edges[institution])
		if err != nil {
			l.gap = fmt.Errorf("the log of institution %s: %w", institution, err)
			continue
		}
		if l.trees[institution], err = ledger.TreeOf(n, hashes); err != nil {
			return err
		}
	}
	return nil
}

// add adds the entries to their logs.
func (l *logging) add(ctx context.Context, entries []unlogged) (int, error) {
	var institutions []uuid.UUID
	var sequences []int64
	var hashes [][]byte
	for _, e := range entries {
		tree := l.trees[e.InstitutionID]
		if tree == nil {
			continue
		}
		if *e.Sequence != tree.Size()+1 {
			l.gap = fmt.Errorf("the log of institution %s ends with entry %d, because the one after it is missing",
				e.InstitutionID, tree.Size())
			delete(l.trees, e.InstitutionID)
			continue
		}
		kept, err := tree.Add(e.leaf(*e.Sequence, e.SealedAt).Hash())
		if err != nil {
			return 0, err
		}
		institutions = append(institutions, e.InstitutionID)
		sequences, hashes = append(sequences, *e.Sequence), append(hashes, kept)
	}
	_, err := l.tx.Exec(ctx, `
		insert into log_leaf (institution_id, seq, hashes) select * from unnest($1::uuid[], $2::bigint[], $3::bytea[])`,
		institutions, sequences, hashes)
	return len(sequences), err
}

// hashesOf finds hashes, by their numbers in tlog's order, among what is kept by sequence number.
func hashesOf(stored []int64, kept map[int64][]byte) ([]tlog.Hash, error) {
	hashes := make([]tlog.Hash, len(stored))
	for i, number := range stored {
		sequence, position := ledger.Place(number)
		var err error
		if hashes[i], err = ledger.KeptAt(kept[sequence], position); err != nil {
			return nil, fmt.Errorf("at sequence number %d: %w", sequence, err)
		}
	}
	return hashes, nil
}

func scan[T any](ctx context.Context, tx pgx.Tx, sql string, args ...any) ([]T, error) {
	rows, err := tx.Query(ctx, sql, args...)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, pgx.RowToStructByName[T])
}

// logsBehind are institutions that have entries which are not in their logs.
const logsBehind = `
	select i.id from institution i
	 where coalesce((select seq from sequenced where institution_id = i.id order by seq desc limit 1), 0)
	     > coalesce((select seq from log_leaf where institution_id = i.id order by seq desc limit 1), 0)
	 order by i.id limit $1`

// notLogged are the next entries of institutions that are not in their logs, in order.
const notLogged = `
	select i.id as institution_id, n.logged, p.seq, p.sealed_at, e.id, e.kind, e.record_id, e.revision, e.act,
	       e.request_id, e.recorded_at, e.recorded_by, e.source_system, e.source_id, e.digest, null::text as body
	  from (select distinct unnest($1::uuid[]) as id) i
	 cross join lateral (select coalesce((select seq from log_leaf where institution_id = i.id
	                                       order by seq desc limit 1), 0) as logged offset 0) n
	 cross join lateral (select * from sequenced where institution_id = i.id and seq > n.logged
	                      order by seq limit $2 offset 0) p
	 ` + ofSequence + `
	 order by 1, p.seq limit $2`
