package postgres

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"time"

	"golang.org/x/mod/sumdb/tlog"

	"meniscus/internal/fault"
	"meniscus/internal/ledger"
)

// LogHead is the log as far as the sealer is with it.
func (s Tenant) LogHead(ctx context.Context) (ledger.Checkpoint, error) {
	head := ledger.Checkpoint{Origin: ledger.Origin(s.institution)}
	var err error
	if head.Size, err = s.logSize(ctx); err != nil {
		return head, err
	}
	if head.Root, err = tlog.TreeHash(head.Size, s.logHashes(ctx)); err != nil {
		return head, fmt.Errorf("hashing the log: %w", err)
	}
	return head, nil
}

func (s Tenant) logSize(ctx context.Context) (int64, error) {
	type one struct{ Size int64 }
	rows, err := collect[one](ctx, s, `
		select coalesce(max(seq), 0) as size from log_leaf where institution_id = $1`, s.institution)
	if err != nil {
		return 0, err
	}
	return rows[0].Size, nil
}

// logHashes reads the log's hashes.
func (s Tenant) logHashes(ctx context.Context) tlog.HashReaderFunc {
	return func(stored []int64) ([]tlog.Hash, error) {
		sequences := make([]int64, len(stored))
		for i, number := range stored {
			sequences[i], _ = ledger.Place(number)
		}
		type kept struct {
			Seq    int64
			Hashes []byte
		}
		rows, err := collect[kept](ctx, s, `
			select l.seq, l.hashes from unnest($2::bigint[]) w
			 cross join lateral (select * from log_leaf where institution_id = $1 and seq = w offset 0) l`,
			s.institution, sequences)
		if err != nil {
			return nil, err
		}
		found := make(map[int64][]byte, len(rows))
		for _, row := range rows {
			found[row.Seq] = row.Hashes
		}
		return hashesOf(stored, found)
	}
}

// LogSpan is the last sequence number of the entries, and that of the log.
func (s Tenant) LogSpan(ctx context.Context) (entries, logged int64, err error) {
	if entries, err = s.LastSequence(ctx); err == nil {
		logged, err = s.logSize(ctx)
	}
	return entries, logged, err
}

// LoggedEntries gives the entries after a sequence number, up to another, with what the
// log keeps of them; one that is missing has no leaf, one that is not logged has nothing kept.
func (s Tenant) LoggedEntries(ctx context.Context, after, upto int64) ([]ledger.Logged, error) {
	type kept struct {
		Seq    int64
		Hashes []byte
	}
	type sealed struct {
		Row
		SealedAt time.Time `db:"sealed_at"`
	}
	var leaves []kept
	var entries []sealed
	b := newBatchPlannedAnew(s.institution)
	queue(b, &leaves, `select seq, hashes from log_leaf where institution_id = $1 and seq > $2 and seq <= $3 order by seq`,
		s.institution, after, upto)
	queue(b, &entries, `
		select e.id, e.kind, e.record_id, e.revision, e.act, e.request_id, e.recorded_at, e.recorded_by,
		       e.source_system, e.source_id, e.digest, null::text as body, p.seq, p.sealed_at
		  from sequenced p `+ofSequence+`
		 where p.institution_id = $1 and p.seq > $2 and p.seq <= $3 order by p.seq`, s.institution, after, upto)
	if err := s.run(ctx, b); err != nil {
		return nil, err
	}
	found := map[int64]*ledger.Logged{}
	for _, leaf := range leaves {
		found[leaf.Seq] = &ledger.Logged{Sequence: leaf.Seq, Kept: leaf.Hashes}
	}
	for _, e := range entries {
		at := found[*e.Sequence]
		if at == nil {
			at = &ledger.Logged{Sequence: *e.Sequence}
			found[*e.Sequence] = at
		}
		leaf := e.leaf(*e.Sequence, e.SealedAt)
		hash := leaf.Hash()
		at.Name, at.Leaf = leaf.Name(), &hash
	}
	all := make([]ledger.Logged, 0, len(found))
	for _, sequence := range slices.Sorted(maps.Keys(found)) {
		all = append(all, *found[sequence])
	}
	return all, nil
}

// LogProof proves something of the tree over a log's first entries.
type LogProof struct {
	Size   int64
	Leaf   *ledger.Leaf // of the entry that is proved; nil where growth is
	Hashes []tlog.Hash  // RFC 9162, sections 2.1.3 and 2.1.4
}

// ProveEntry proves that the entry with a sequence number is among a log's first entries,
// or its fault: a size of 0 is all of them.
func (s Tenant) ProveEntry(ctx context.Context, sequence, size int64) (LogProof, error) {
	proof, err := s.proofOf(ctx, "sequence", sequence, size)
	if err != nil {
		return proof, err
	}
	found, _, err := s.exported(ctx, `p.seq = $3`, 1, sequence)
	if err != nil {
		return proof, err
	}
	if len(found) == 0 {
		return proof, &fault.Fault{Kind: fault.Malformed, Code: "parameter-invalid", Parameter: "sequence",
			Detail: "The entry with this number was taken away since it was logged: nothing is proved. Have the operator run verify."}
	}
	leaf := found[0].Leaf()
	proof.Leaf = &leaf
	if proof.Hashes, err = tlog.ProveRecord(proof.Size, sequence-1, s.logHashes(ctx)); err != nil {
		return proof, fmt.Errorf("proving an entry: %w", err)
	}
	return proof, nil
}

// ProveGrowth proves that a log's first entries, from how many on, are the first of those
// up to a size; 0 is all of them.
func (s Tenant) ProveGrowth(ctx context.Context, from, size int64) (LogProof, error) {
	proof, err := s.proofOf(ctx, "from", from, size)
	if err != nil {
		return proof, err
	}
	if proof.Hashes, err = tlog.ProveTree(proof.Size, from, s.logHashes(ctx)); err != nil {
		return proof, fmt.Errorf("proving growth: %w", err)
	}
	return proof, nil
}

// proofOf finds the size, and refuses what the log is not long enough for.
func (s Tenant) proofOf(ctx context.Context, parameter string, first, size int64) (LogProof, error) {
	last, err := s.logSize(ctx)
	if err != nil {
		return LogProof{}, err
	}
	if size == 0 {
		size = last
	}
	refused := &fault.Fault{Kind: fault.Malformed, Code: "parameter-invalid", Parameter: "size",
		Detail: fmt.Sprintf("The log has %d entries.", last)}
	switch {
	case size > last:
		return LogProof{}, refused
	case first < 1 || first > size:
		refused.Parameter = parameter
		return LogProof{}, refused
	}
	return LogProof{Size: size}, nil
}

// LogKey is a public key that signs a log or signed it.
type LogKey struct {
	Verifier string    `db:"verifier"`
	Since    time.Time `db:"since"`
}

// LogKeys gives the keys of the log, the newest first. Those that are not on record yet
// are put there: a key is on record before it signs.
func (s Tenant) LogKeys(ctx context.Context, signing []string) ([]LogKey, error) {
	const onRecord = `select verifier, since from log_key where institution_id = $1 order by since desc, verifier`
	keys, err := collect[LogKey](ctx, s, onRecord, s.institution)
	known := map[string]bool{}
	for _, key := range keys {
		known[key.Verifier] = true
	}
	missing := false
	for _, verifier := range signing {
		missing = missing || !known[verifier]
	}
	if err != nil || !missing {
		return keys, err
	}
	b := newBatch(s.institution)
	b.Queue(`insert into log_key (institution_id, verifier) select $1, unnest($2::text[])
		on conflict (verifier, institution_id) do nothing`, s.institution, signing)
	keys = nil
	queue(b, &keys, onRecord, s.institution)
	err = s.run(ctx, b)
	return keys, err
}
