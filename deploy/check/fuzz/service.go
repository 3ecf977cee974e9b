package main

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"time"

	"github.com/google/uuid"

	"meniscus/internal/access"
	"meniscus/internal/localpg"
	"meniscus/internal/postgres"
	"meniscus/migrations"
)

// service is the program as it ships, as a child of this process, on a private
// Postgres that is another.
type service struct {
	program   string
	published []uuid.UUID
	pg        *localpg.Server
	store     *postgres.Store // to found institutions
	child     *exec.Cmd
	ended     chan struct{} // closed when the child has ended
	address   string
	debug     string

	lock sync.Mutex
	log  []string // warnings and errors since they were last taken
}

const (
	database = "meniscus"
	owner    = "meniscus_owner"
)

// startService builds the program and starts it on a database of its own.
func startService(ctx context.Context, folder string, published []uuid.UUID) (*service, error) {
	s := &service{program: filepath.Join(folder, "meniscus"), published: published}
	if out, err := exec.CommandContext(ctx, "go", "build", "-o", s.program, "./cmd/meniscus").CombinedOutput(); err != nil {
		return nil, fmt.Errorf("building the service: %w\n%s", err, out)
	}
	var err error
	if s.pg, err = localpg.Start(ctx, localpg.Config{Ephemeral: true}); err != nil {
		return nil, err
	}
	if err = s.prepare(ctx); err == nil {
		err = s.launch()
	}
	if err != nil {
		return nil, errors.Join(err, s.stop())
	}
	return s, nil
}

func (s *service) prepare(ctx context.Context) (err error) {
	if err = postgres.MakeDatabase(ctx, s.pg.DSN(localpg.Superuser, "postgres"), database, owner); err != nil {
		return err
	}
	if err = migrations.Apply(ctx, s.pg.DSN(owner, database)); err != nil {
		return err
	}
	if err = postgres.MakeRoles(ctx, s.pg.DSN(owner, database), "", ""); err != nil {
		return err
	}
	s.store, err = postgres.Open(ctx, s.pg.DSN(postgres.AppRole, database))
	return err
}

// launch starts the program and waits until it says where it listens. No limit
// of the number of requests is in the way of the work that is measured.
func (s *service) launch() error {
	ids := make([]string, len(s.published))
	for i, id := range s.published {
		ids[i] = id.String()
	}
	s.child = exec.Command(s.program, "serve")
	s.child.Env = append(os.Environ(),
		"MENISCUS_DATABASE_URL="+s.pg.DSN(postgres.AppRole, database), "MENISCUS_WORKER_DATABASE_URL="+s.pg.DSN(postgres.WorkerRole, database),
		"MENISCUS_ADDRESS=127.0.0.1:0", "MENISCUS_DEBUG_ADDRESS=127.0.0.1:0", "MENISCUS_PUBLIC_URL=https://meniscus.example",
		"MENISCUS_PUBLISHED="+strings.Join(ids, ","), "MENISCUS_RATE_LIMIT=100000000/1m",
		"MENISCUS_SECRET_KEY=AAECAwQFBgcICQoLDA0ODxAREhMUFRYXGBkaGxwdHh8=", "MENISCUS_WEBHOOK_ALLOW_PRIVATE=127.0.0.0/8")
	errs, err := s.child.StderrPipe()
	if err != nil {
		return err
	}
	if err := s.child.Start(); err != nil {
		return fmt.Errorf("starting the service: %w", err)
	}
	s.ended = make(chan struct{})
	serving := make(chan struct{})
	go s.read(errs, serving)
	select {
	case <-serving:
		return nil
	case <-s.ended:
	case <-time.After(time.Minute):
	}
	return fmt.Errorf("the service does not start:\n%s", strings.Join(s.taken(), "\n"))
}

// read follows the service's log to its end, and waits for the child.
func (s *service) read(errs io.Reader, serving chan struct{}) {
	lines := bufio.NewReader(errs)
	for {
		line, err := lines.ReadString('\n')
		s.heard(strings.TrimSpace(line), serving)
		if err != nil {
			break
		}
	}
	_ = s.child.Wait()
	close(s.ended)
}

func (s *service) heard(line string, serving chan struct{}) {
	var said struct{ Level, Msg, Address string }
	if err := json.Unmarshal([]byte(line), &said); err == nil {
		switch said.Msg {
		case "profiles":
			s.debug = said.Address
		case "serving":
			s.address = said.Address
			close(serving)
		}
		if said.Level == "INFO" || said.Level == "DEBUG" {
			return
		}
	}
	s.lock.Lock()
	defer s.lock.Unlock()
	if line != "" && len(s.log) < 200 {
		s.log = append(s.log, line)
	}
}

// taken gives the warnings and errors of the log, once.
func (s *service) taken() []string {
	s.lock.Lock()
	defer s.lock.Unlock()
	log := s.log
	s.log = nil
	return log
}

func (s *service) alive() bool {
	select {
	case <-s.ended:
		return false
	default:
		return true
	}
}

// endsSoon tells whether the service has ended, or is about to: a connection
// breaks before the process is gone.
func (s *service) endsSoon() bool {
	select {
	case <-s.ended:
		return true
	case <-time.After(time.Second):
		return false
	}
}

// kill ends the service at once and says why in its log.
func (s *service) kill(why string) {
	s.lock.Lock()
	s.log = append(s.log, why)
	s.lock.Unlock()
	_ = s.child.Process.Kill()
}

// restart ends what is left of the child and starts another.
func (s *service) restart() error {
	_ = s.child.Process.Kill()
	<-s.ended
	return s.launch()
}

// stop ends the service in an orderly way and then the database. A service that
// does not end well is a failure.
func (s *service) stop() (err error) {
	if s.child != nil && s.ended != nil {
		_ = s.child.Process.Signal(syscall.SIGTERM)
		select {
		case <-s.ended:
		case <-time.After(30 * time.Second):
			_ = s.child.Process.Kill()
			<-s.ended
		}
		if state := s.child.ProcessState; !state.Success() {
			err = fmt.Errorf("told to end, the service ended with %v:\n%s", state, strings.Join(s.taken(), "\n"))
		}
	}
	if s.store != nil {
		s.store.Close()
	}
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	defer cancel()
	return errors.Join(err, s.pg.Stop(ctx))
}

// found makes an institution and gives its key of every scope. It has a first
// person, or, to be restored into, none but the key's own.
func (s *service) found(ctx context.Context, f postgres.Founding) (access.Key, error) {
	f.TimeZone, f.Scopes = "Europe/Vienna", access.Scopes()
	key, err := postgres.Found(ctx, s.pg.DSN(owner, database), s.store, f)
	if err != nil {
		return access.Key{}, fmt.Errorf("founding an institution: %w", err)
	}
	return key, nil
}

// verify has the program compare everything that is kept with the facts that it
// was made from.
func (s *service) verify(ctx context.Context) error {
	c := exec.CommandContext(ctx, s.program, "verify")
	c.Env = s.child.Env
	out, err := c.CombinedOutput()
	if err == nil {
		return nil
	}
	var wrong []string
	for line := range strings.Lines(string(out)) {
		if !strings.Contains(line, ": 0 wrong.") {
			wrong = append(wrong, line)
		}
	}
	return fmt.Errorf("meniscus verify: %w\n%s", err, strings.Join(wrong, ""))
}
