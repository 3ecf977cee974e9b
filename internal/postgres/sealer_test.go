package postgres_test

import (
	"context"
	"testing"

	"meniscus/internal/pgtest"
	"meniscus/internal/postgres"
)

const sayMany = `
	with said as (
		insert into entry (institution_id, id, kind, record_id, revision, act, request_id, recorded_by, nonce, digest, body)
		select $1::uuid, gen_random_uuid(), 'person', gen_random_uuid(), 1, 'stated', $1::uuid, $1::uuid, ''::bytea,
		       sha256(''), '{}'
		  from generate_series(1, $2) returning id)
	insert into unsealed (institution_id, entry_id) select $1::uuid, id from said`

// An entry whose transaction stayed open while thousands of later entries were sealed
// still gets its sequence number, after them.
func TestLateCommitIsSealed(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t)
	ctx := t.Context()
	const institution = "0193a5b4-0000-7000-8000-00000000000a"
	pool := pgtest.Pool(t, db.Super())
	late, err := pool.Begin(ctx)
	if err != nil {
		t.Fatal(err)
	}
	defer late.Rollback(context.WithoutCancel(ctx)) // it is committed below
	if _, err := late.Exec(ctx, sayMany, institution, 1); err != nil {
		t.Fatal(err)
	}
	if _, err := pool.Exec(ctx, sayMany, institution, 5000); err != nil {
		t.Fatal(err)
	}
	rounds := make(chan struct{}, 1000)
	sealer, err := postgres.OpenSealer(ctx, db.Worker(), func() { rounds <- struct{}{} })
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(sealer.Close)
	go sealer.Run(ctx, func(err error) { t.Log(err) })
	<-rounds
	if err := late.Commit(ctx); err != nil {
		t.Fatal(err)
	}
	<-rounds
	var sequences, last int
	if err := pool.QueryRow(ctx, `select count(*), max(seq) from sequenced`).Scan(&sequences, &last); err != nil {
		t.Fatal(err)
	}
	if sequences != 5001 || last != 5001 {
		t.Errorf("got %d sequence numbers, the last %d; want 5001", sequences, last)
	}
}
