package httpapi_test

import (
	"context"
	"encoding/json"
	"math/rand/v2"
	"net/http"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"

	"meniscus/internal/ledger"
	"meniscus/internal/pgtest"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
)

// The proof of the feed: 32 writers whose transactions commit out of order, one
// that stays open nearly to the end, three sealers, killed sessions and a crash
// of the server in the middle. Whoever follows the list or the stream sees every
// committed entry exactly once, in one order without gaps.
func TestFollowersMissNothing(t *testing.T) {
	t.Parallel()
	srv := pgtest.NewServer(t)
	store, err := postgres.Open(t.Context(), srv.App())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(store.Close)
	f := &feed{t: t, srv: srv, store: store, acknowledged: map[uuid.UUID]bool{}, committed: make(chan int, 100_000)}
	f.url = newServer(t, store).URL
	f.inst, f.key = addInstitution(t, &srv.DB, store, "Museum of the Lower Valley")
	f.pool = pgtest.Pool(t, srv.App(), func(cfg *pgxpool.Config) { cfg.MaxConns = 40 })

	ctx := t.Context()
	sealing, stopSealing := context.WithCancel(ctx)
	defer stopSealing()
	for range 3 {
		sealer, err := postgres.OpenSealer(ctx, srv.Worker(), nil)
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(sealer.Close)
		go sealer.Run(sealing, func(error) {}) // failures are what this test makes
	}
	readers := []*follower{{feed: f}, {feed: f}}
	var reading sync.WaitGroup
	reading.Go(func() { readers[0].page(ctx) })
	reading.Go(func() { readers[1].stream(ctx) })

	f.write(ctx, 800)
	f.wanted.Store(int64(len(f.entries(ctx))) + 1)
	f.commit(ctx, f.open(ctx)) // the last, which comes when the followers know how many there are
	reading.Wait()
	late := &follower{feed: f}
	late.page(ctx)
	want := f.entries(ctx)
	for name, r := range map[string]*follower{"list": readers[0], "stream": readers[1], "list from the beginning": late} {
		r.judge(name, want)
	}
	for id := range f.acknowledged {
		if !want[id] {
			t.Errorf("entry %s was acknowledged and is not there", id)
		}
	}
	t.Logf("%d entries, of which %d were acknowledged", len(want), len(f.acknowledged))
}

// feed is one institution's writers and what they were told.
type feed struct {
	t         *testing.T
	srv       *pgtest.Server
	store     *postgres.Store
	pool      *pgxpool.Pool
	inst      uuid.UUID
	url, key  string
	committed chan int
	wanted    atomic.Int64 // how many entries there are; 0 while writing

	mu           sync.Mutex
	acknowledged map[uuid.UUID]bool
}

func (f *feed) acknowledge(entry uuid.UUID) {
	f.mu.Lock()
	f.acknowledged[entry] = true
	f.mu.Unlock()
	f.committed <- 1
}

// write runs the writers until n entries were acknowledged; sessions are killed
// after every fifth part, and in the middle the server crashes.
func (f *feed) write(ctx context.Context, n int) {
	held := f.open(ctx) // stays open while thousands of later tickets are sealed
	writing, stop := context.WithCancel(ctx)
	var writers sync.WaitGroup
	for range 16 {
		writers.Go(func() { f.writeAtOnce(writing) })
	}
	for range 4 {
		writers.Go(func() { f.writeOutOfOrder(writing) })
	}
	for done := 1; done <= n; done++ {
		<-f.committed
		switch {
		case done == n/2:
			f.srv.Crash()
			f.srv.Start(f.t)
			held = f.again(ctx, held)
			f.writeMany(ctx) // so that the ticket of the open one is far below those that are sealed
		case done%(n/5) == 0 && done < n/2:
			f.srv.KillBackends(f.t)
			held = f.again(ctx, held)
		}
	}
	stop()
	writers.Wait()
	f.commit(ctx, held)
}

// writeAtOnce writes as the service does.
func (f *feed) writeAtOnce(ctx context.Context) {
	for ctx.Err() == nil {
		written, err := f.store.For(f.inst).Write(ctx, postgres.Write{
			Person: uuid.New(), RequestID: uuid.New(),
			Entries: []postgres.Entry{{Record: uuid.Must(uuid.NewV7()), Kind: record.KindPerson, Revision: 1, Act: ledger.Stated, Body: []byte(`{"statement":{"name":"Ilse Varga"}}`)}},
		})
		if err == nil {
			f.acknowledge(written.Rows[0].EntryID)
		}
	}
}

// writeMany writes 2,500 entries in one transaction.
func (f *feed) writeMany(ctx context.Context) {
	if _, err := pgtest.Pool(f.t, f.srv.Super()).Exec(ctx, fill, f.inst, 2500, 10); err != nil {
		f.t.Fatal(err)
	}
}

// pending is one transaction that has written its entry and is not committed.
type pending struct {
	tx    pgx.Tx
	entry uuid.UUID
}

// writeOutOfOrder keeps four transactions open and commits them in any order.
func (f *feed) writeOutOfOrder(ctx context.Context) {
	var held []pending
	for ctx.Err() == nil {
		if o := f.open(ctx); o.tx != nil {
			held = append(held, o)
		}
		if len(held) == 4 {
			i := rand.IntN(len(held))
			f.commit(ctx, held[i])
			held = append(held[:i], held[i+1:]...)
		}
	}
	for _, o := range held {
		f.commit(context.WithoutCancel(ctx), o)
	}
}

func (f *feed) open(ctx context.Context) pending {
	tx, err := f.pool.Begin(ctx)
	if err != nil {
		return pending{}
	}
	o := pending{tx: tx, entry: uuid.Must(uuid.NewV7())}
	body := []byte(`{"statement":{"name":"Ilse Varga"}}`)
	digest := ledger.Digest(make([]byte, ledger.NonceSize), body)
	b := &pgx.Batch{}
	b.Queue(`select set_config('app.institution', $1, true)`, f.inst.String())
	b.Queue(`insert into entry (institution_id, id, kind, record_id, revision, act, request_id, recorded_by, nonce, digest, body)
		values ($1, $2, 'person', $3, 1, 'stated', $3, $3, $4, $5, $6)`, f.inst, o.entry, uuid.New(), make([]byte, ledger.NonceSize), digest[:], string(body))
	b.Queue(`insert into unsealed (institution_id, entry_id) values ($1, $2)`, f.inst, o.entry)
	if err := tx.SendBatch(ctx, b).Close(); err != nil {
		_ = tx.Rollback(context.WithoutCancel(ctx))
		return pending{}
	}
	return o
}

// again opens another transaction in place of one whose session is gone.
func (f *feed) again(ctx context.Context, lost pending) pending {
	if lost.tx != nil {
		_ = lost.tx.Rollback(ctx) // gives the connection back
	}
	return f.open(ctx)
}

func (f *feed) commit(ctx context.Context, o pending) {
	if o.tx != nil && o.tx.Commit(ctx) == nil {
		f.acknowledge(o.entry)
	}
}

// entries are what the database holds.
func (f *feed) entries(ctx context.Context) map[uuid.UUID]bool {
	rows, err := pgtest.Pool(f.t, f.srv.Super()).Query(ctx, `select id from entry where institution_id = $1`, f.inst)
	if err != nil {
		f.t.Fatal(err)
	}
	ids, err := pgx.CollectRows(rows, pgx.RowTo[uuid.UUID])
	if err != nil {
		f.t.Fatal(err)
	}
	all := make(map[uuid.UUID]bool, len(ids))
	for _, id := range ids {
		all[id] = true
	}
	return all
}

// follower is a reader of the feed and what it has seen.
type follower struct {
	*feed
	after string
	seen  []change
}

// change is what a follower reads of an entry.
type change struct {
	Cursor   string
	Sequence int64
	Entry    uuid.UUID
}

// all tells whether the follower has seen as many entries as there are.
func (r *follower) all() bool {
	wanted := r.wanted.Load()
	return wanted > 0 && int64(len(r.seen)) >= wanted
}

// page follows /v1/changes until it has seen everything.
func (r *follower) page(ctx context.Context) {
	pause := time.NewTicker(5 * time.Millisecond)
	defer pause.Stop()
	for !r.all() && ctx.Err() == nil {
		path := "/v1/changes?limit=200"
		if r.after != "" {
			path += "&cursor=" + r.after
		}
		got := send(r.t, r.url, r.key, http.MethodGet, path, nil)
		if got.status == http.StatusServiceUnavailable || got.status == http.StatusInternalServerError {
			continue // the server was killed; the same question again
		}
		var list struct {
			Items  []change
			Cursor string
		}
		if err := json.Unmarshal(got.want(200).body, &list); err != nil {
			r.t.Error(err)
			return
		}
		r.seen, r.after = append(r.seen, list.Items...), list.Cursor
		if len(list.Items) == 0 {
			<-pause.C
		}
	}
}

// stream follows /v1/changes/stream, coming back whenever it breaks.
func (r *follower) stream(ctx context.Context) {
	for !r.all() && ctx.Err() == nil {
		r.once(ctx)
	}
}

func (r *follower) once(ctx context.Context) {
	response := openStream(r.t, ctx, r.url, r.key, r.after)
	defer response.Body.Close()
	if response.StatusCode != http.StatusOK {
		return
	}
	for e := range events(response.Body) {
		if e.name == "change" {
			var c change
			if err := json.Unmarshal([]byte(e.data), &c); err != nil || c.Cursor != e.id {
				r.t.Errorf("got event %+v: %v", e, err)
			}
			r.seen, r.after = append(r.seen, c), e.id
		}
		if r.all() {
			return
		}
	}
}

func openStream(t testing.TB, ctx context.Context, base, key, after string) *http.Response {
	t.Helper()
	request, err := http.NewRequestWithContext(ctx, http.MethodGet, base+"/v1/changes/stream", nil)
	if err != nil {
		t.Fatal(err)
	}
	request.Header.Set("Authorization", "Bearer "+key)
	request.Header.Set("Accept", "text/event-stream")
	if after != "" {
		request.Header.Set("Last-Event-ID", after)
	}
	response, err := http.DefaultClient.Do(request)
	if err != nil {
		t.Fatal(err)
	}
	return response
}

// judge wants each entry once, at sequence numbers without gaps.
func (r *follower) judge(name string, want map[uuid.UUID]bool) {
	r.t.Helper()
	if len(r.seen) != len(want) {
		r.t.Errorf("%s: got %d entries, want %d", name, len(r.seen), len(want))
	}
	seen := map[uuid.UUID]bool{}
	for i, c := range r.seen {
		if c.Sequence != int64(i+1) || seen[c.Entry] || !want[c.Entry] {
			r.t.Fatalf("%s: got %+v as number %d; seen before: %v, committed: %v", name, c, i+1, seen[c.Entry], want[c.Entry])
		}
		seen[c.Entry] = true
	}
}
