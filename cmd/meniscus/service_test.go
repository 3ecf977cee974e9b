package main

import (
	"context"
	"errors"
	"io"
	"log/slog"
	"net"
	"net/http"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"meniscus/internal/access"
	"meniscus/internal/pgtest"
	"meniscus/internal/postgres"
	"meniscus/migrations"
)

func TestMain(m *testing.M) { pgtest.Main(m) }

// configOn is the configuration of `serve` for a test's database, on a free port.
func configOn(db *pgtest.DB) Config {
	return Config{DatabaseURL: db.App(), WorkerDatabaseURL: db.Worker(), Address: "127.0.0.1:0",
		PublicURL: "https://meniscus.example", Worker: true, MaxBody: 1 << 20, LogKeys: testLogKeys}
}

func get(t *testing.T, url string) int {
	t.Helper()
	response, err := http.Get(url)
	if err != nil {
		return 0
	}
	_ = response.Body.Close()
	return response.StatusCode
}

// started runs a service until stop is called, or the test ends.
func started(t *testing.T, cfg Config) (s *service, stop func()) {
	t.Helper()
	s, err := newService(t.Context(), cfg, slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.WithoutCancel(t.Context()))
	ended := make(chan error, 1)
	go func() { ended <- s.run(ctx) }()
	stop = sync.OnceFunc(func() {
		cancel()
		if err := <-ended; err != nil {
			t.Error(err)
		}
	})
	t.Cleanup(stop)
	return s, stop
}

// When the service is stopped, it first says that it is not ready, then lets the
// running request finish and store its record, and only then ends.
func TestServiceDrains(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t)
	s, err := newService(t.Context(), configOn(db), slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	seen := make(chan struct{}) // the service continues when the test has seen that it is not ready
	s.pause = func(time.Duration) { <-seen }
	begun := make(chan struct{}, 100) // requests whose first byte the server has read
	s.http.ConnState = func(_ net.Conn, state http.ConnState) {
		if state == http.StateActive {
			begun <- struct{}{}
		}
	}
	key, err := postgres.Found(t.Context(), db.Owner(), s.store, postgres.Founding{Institution: uuid.Must(uuid.NewV7()),
		Name: "Museum of the Lower Valley", TimeZone: "Europe/Vienna", Person: "Ilse Varga", Scopes: access.Scopes()})
	if err != nil {
		t.Fatal(err)
	}
	url := "http://" + s.listener.Addr().String()
	ctx, stop := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() { ended <- s.run(ctx) }()
	if got := get(t, url+"/livez?x="+strings.Repeat("x", maxHeader+8<<10)); got != http.StatusRequestHeaderFieldsTooLarge {
		t.Errorf("a request line of more than %d bytes: got %d, want 431", maxHeader, got)
	}
	if got := get(t, url+"/readyz"); got != http.StatusOK {
		t.Fatalf("before: /readyz got %d, want 200", got)
	}
	<-begun

	body, send := io.Pipe()
	request, err := http.NewRequest(http.MethodPost, url+"/v1/people", body)
	if err != nil {
		t.Fatal(err)
	}
	request.Header.Set("Authorization", "Bearer "+key.Text())
	request.Header.Set("Content-Type", "application/json")
	request.Header.Set("Idempotency-Key", "during-the-end")
	answered := make(chan int, 1)
	go func() {
		response, err := http.DefaultClient.Do(request)
		if err != nil {
			answered <- 0
			return
		}
		_ = response.Body.Close()
		answered <- response.StatusCode
	}()
	if _, err := send.Write([]byte(`{"statement":{"name":`)); err != nil {
		t.Fatal(err)
	}
	<-begun

	stop()
	for get(t, url+"/readyz") == http.StatusOK {
	}
	if got := get(t, url+"/readyz"); got != http.StatusServiceUnavailable {
		t.Errorf("draining: /readyz got %d, want 503", got)
	}
	close(seen)
	if _, err := send.Write([]byte(`"Oda Lindqvist"}}`)); err != nil {
		t.Fatal(err)
	}
	_ = send.Close()
	if got := <-answered; got != http.StatusCreated {
		t.Errorf("the request at work got %d, want 201", got)
	}
	if err := <-ended; err != nil {
		t.Errorf("the service ended with %v", err)
	}
	if got := get(t, url+"/livez"); got != 0 {
		t.Errorf("after: got %d, want nobody listening", got)
	}
	var people int
	pool := pgtest.Pool(t, db.Super())
	if err := pool.QueryRow(t.Context(),
		`select count(*) from person where display_name = 'Oda Lindqvist'`).Scan(&people); err != nil {
		t.Fatal(err)
	}
	if people != 1 {
		t.Errorf("got %d records of the request at work, want 1", people)
	}
}

// A program that is older or newer than the schema does not start, and one without a
// database fails at once.
func TestServiceRefusesToStart(t *testing.T) {
	t.Parallel()
	for name, tc := range map[string]struct {
		sql    string
		change func(*Config)
		want   error
		says   string
	}{
		"old schema":     {sql: `delete from goose_db_version where version_id = (select max(version_id) from goose_db_version)`, want: migrations.ErrOld},
		"new schema":     {sql: `insert into goose_db_version (version_id, is_applied) values (99999, true)`, want: migrations.ErrNew},
		"no schema":      {sql: `drop table goose_db_version`, want: migrations.ErrOld},
		"no such server": {change: func(c *Config) { c.DatabaseURL = "postgres://meniscus_app@127.0.0.1:1/meniscus" }, says: "connect"},
		"address taken":  {change: func(c *Config) { c.Address = "203.0.113.1:80" }, says: "listening"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			db := pgtest.New(t)
			cfg := configOn(db)
			if tc.change != nil {
				tc.change(&cfg)
			}
			if tc.sql != "" {
				conn, err := pgx.Connect(t.Context(), db.Super())
				if err != nil {
					t.Fatal(err)
				}
				defer conn.Close(context.Background())
				if _, err := conn.Exec(t.Context(), tc.sql); err != nil {
					t.Fatal(err)
				}
			}
			s, err := newService(t.Context(), cfg, slog.New(slog.DiscardHandler))
			switch {
			case err == nil:
				s.close()
				t.Errorf("it started")
			case tc.want != nil && !errors.Is(err, tc.want):
				t.Errorf("got %v, want %v", err, tc.want)
			case !strings.Contains(err.Error(), tc.says):
				t.Errorf("got %v, want it to say %q", err, tc.says)
			}
		})
	}
}

// Profiles are served only at their own address, and end with the service.
func TestProfiles(t *testing.T) {
	t.Parallel()
	cfg := configOn(pgtest.New(t))
	cfg.DebugAddress = "127.0.0.1:0"
	s, stop := started(t, cfg)
	profile := "/debug/pprof/goroutine?debug=1"
	if got := get(t, "http://"+s.debug.listener.Addr().String()+profile); got != http.StatusOK {
		t.Errorf("got %d at the address of profiles, want 200", got)
	}
	if got := get(t, "http://"+s.listener.Addr().String()+profile); got != http.StatusNotFound {
		t.Errorf("got %d at the service's address, want 404", got)
	}
	stop()
	if got := get(t, "http://"+s.debug.listener.Addr().String()+profile); got != 0 {
		t.Errorf("got %d after the end, want nobody there", got)
	}
}
