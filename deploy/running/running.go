// Package running runs the program, as it is deployed, and a private Postgres as
// children of this process, for checks and measurements over HTTP.
package running

import (
	"bufio"
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"time"

	"meniscus/internal/access"
	"meniscus/internal/localpg"
	"meniscus/internal/postgres"
)

const (
	database = "meniscus"
	owner    = "meniscus_owner"
)

// Service is the program and its database.
type Service struct {
	*Instance

	folder  string
	server  map[string]string
	dsn     func(role, database string) string // where the database is
	pg      *localpg.Server                    // nil where there is a cluster
	cluster *cluster                           // nil where there is none
	store   *postgres.Store                    // to found institutions
	disk    string                             // the database's own; "" where it has none
	another []*Instance
	pooler  *exec.Cmd // nil where there is none
}

// Instance is one process of the program.
type Instance struct {
	Address string // the address of its API
	Debug   string // the address of its profiles, if it serves them

	program string
	env     []string
	child   *exec.Cmd
	ended   chan struct{} // closed when the child has ended

	lock sync.Mutex
	log  []string // warnings and errors since they were last taken
}

// Start starts a program on a database of its own, with these settings beside those of
// its addresses; if program is empty, it is built from this tree. The caller stops the
// service.
func Start(ctx context.Context, program string, settings ...string) (*Service, error) {
	return StartOn(ctx, program, nil, settings...)
}

// StartOn is Start with settings of the database's server, before its own.
func StartOn(ctx context.Context, program string, server map[string]string, settings ...string) (*Service, error) {
	s := &Service{Instance: &Instance{program: program}, server: server}
	err := s.prepare(ctx, func() error { return s.StartDatabase(ctx) })
	if err == nil {
		err = s.serve(func(role string) string { return s.dsn(role, database) }, settings)
	}
	return s.orStopped(err)
}

// serve starts the program on the database at these addresses.
func (s *Service) serve(at func(role string) string, settings []string) error {
	s.env = append(append(os.Environ(), "MENISCUS_ADDRESS=127.0.0.1:0",
		"MENISCUS_DATABASE_URL="+at(postgres.AppRole), "MENISCUS_WORKER_DATABASE_URL="+at(postgres.WorkerRole)), settings...)
	return s.launch()
}

// orStopped is the service, if it started.
func (s *Service) orStopped(err error) (*Service, error) {
	if err != nil {
		return nil, errors.Join(err, s.Stop())
	}
	return s, nil
}

// prepare makes what the service needs, with a database that start starts.
func (s *Service) prepare(ctx context.Context, start func() error) (err error) {
	if s.folder, err = os.MkdirTemp("", "meniscus-running-"); err == nil {
		err = os.Chmod(s.folder, 0o755) // the database may run as somebody else
	}
	if err != nil {
		return err
	}
	if s.program == "" {
		s.program = filepath.Join(s.folder, "meniscus")
		if out, err := exec.CommandContext(ctx, "go", "build", "-o", s.program,
			"./cmd/meniscus").CombinedOutput(); err != nil {
			return fmt.Errorf("building the service: %w\n%s", err, out)
		}
	}
	if err = start(); err != nil {
		return err
	}
	if err = postgres.SetUp(ctx, s.dsn(localpg.Superuser, "postgres"), s.dsn(owner, database)); err != nil {
		return err
	}
	s.store, err = postgres.Open(ctx, s.dsn(postgres.AppRole, database))
	return err
}

// StartDatabase starts the database, also after CrashDatabase, on the same data and at the same
// address.
func (s *Service) StartDatabase(ctx context.Context) error { return s.StartDatabaseAt(ctx, "") }

// StartDatabaseAt is StartDatabase with a clock that is off by so much, such as -1h; "" is right.
// It takes the library of the package faketime.
func (s *Service) StartDatabaseAt(ctx context.Context, off string) (err error) {
	var env []string
	if off != "" {
		found, _ := filepath.Glob("/usr/lib/*/faketime/libfaketime.so.1") // the pattern is right
		if len(found) == 0 {
			return errors.New("looking for libfaketime.so.1 of the package libfaketime in /usr/lib")
		}
		env = []string{"LD_PRELOAD=" + found[0], "FAKETIME=" + off, "FAKETIME_DONT_FAKE_MONOTONIC=1"}
	}
	// What a killed process had written, the machine still has.
	settings := map[string]string{"fsync": "off", "full_page_writes": "off", "max_connections": "200"}
	maps.Copy(settings, s.server)
	s.pg, err = localpg.Start(ctx, localpg.Config{Dir: filepath.Join(cmp.Or(s.disk, s.folder), "cluster"), Env: env,
		Settings: settings})
	if err == nil {
		s.dsn = s.pg.DSN
	}
	return err
}

// CrashDatabase kills the database with its sessions; what it had not committed is lost.
func (s *Service) CrashDatabase() {
	ended, cancel := context.WithCancel(context.Background())
	cancel()
	_ = s.pg.Stop(ended) // the error only says that the server was killed
}

// Another starts the program once more on the same database; it ends with the service.
func (s *Service) Another() (*Instance, error) {
	i := &Instance{program: s.program, env: s.env}
	s.another = append(s.another, i)
	return i, i.launch()
}

// launch starts the program and waits until it logs its address.
func (s *Instance) launch() error {
	s.child = exec.Command(s.program, "serve")
	s.child.Env = s.env
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
	return fmt.Errorf("the service does not start:\n%s", strings.Join(s.Taken(), "\n"))
}

// read follows the service's log to its end, and waits for the child.
func (s *Instance) read(errs io.Reader, serving chan struct{}) {
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

func (s *Instance) heard(line string, serving chan struct{}) {
	var said struct{ Level, Msg, Address string }
	if err := json.Unmarshal([]byte(line), &said); err == nil {
		switch said.Msg {
		case "profiles":
			s.Debug = said.Address
		case "serving":
			s.Address = said.Address
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

// DSN is where a role finds the service's database.
func (s *Service) DSN(role string) string { return s.dsn(role, database) }

// Pause ends the program, until Restart.
func (s *Instance) Pause() error { return s.end() }

// PIDs are the processes of the service and of its database.
func (s *Service) PIDs() (service, database int) { return s.child.Process.Pid, s.pg.PID() }

// Taken gives the warnings and errors that were logged since the last call.
func (s *Instance) Taken() []string {
	s.lock.Lock()
	defer s.lock.Unlock()
	log := s.log
	s.log = nil
	return log
}

// Alive tells whether the service has not ended.
func (s *Instance) Alive() bool {
	select {
	case <-s.ended:
		return false
	default:
		return true
	}
}

// EndsSoon tells whether the service has ended, or is about to: a connection
// breaks before the process is gone.
func (s *Instance) EndsSoon() bool {
	select {
	case <-s.ended:
		return true
	case <-time.After(time.Second):
		return false
	}
}

// Kill ends the service at once and adds the reason to its log.
func (s *Instance) Kill(why string) {
	s.lock.Lock()
	s.log = append(s.log, why)
	s.lock.Unlock()
	_ = s.child.Process.Kill()
}

// Restart ends the child, if it still runs, and starts another.
func (s *Instance) Restart() error {
	_ = s.child.Process.Kill()
	<-s.ended
	return s.launch()
}

// end tells the program to end, and waits for it. The error tells that it did not end well.
func (s *Instance) end() error {
	if s.child == nil || s.ended == nil {
		return nil
	}
	_ = s.child.Process.Signal(syscall.SIGTERM)
	select {
	case <-s.ended:
	case <-time.After(30 * time.Second):
		_ = s.child.Process.Kill()
		<-s.ended
	}
	if state := s.child.ProcessState; !state.Success() {
		return fmt.Errorf("told to end, the service ended with %v:\n%s", state, strings.Join(s.Taken(), "\n"))
	}
	return nil
}

// Stop shuts down the service and then the database. The error tells that the service
// did not end well.
func (s *Service) Stop() (err error) {
	for _, i := range append(s.another, s.Instance) {
		err = errors.Join(err, i.end())
	}
	s.KillPooler()
	if s.store != nil {
		s.store.Close()
	}
	if s.cluster != nil {
		s.cluster.stop()
	}
	if s.pg != nil {
		ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
		defer cancel()
		err = errors.Join(err, s.pg.Stop(ctx))
	}
	if s.disk != "" {
		_ = syscall.Unmount(s.disk, syscall.MNT_DETACH) // it may not have been mounted
	}
	return errors.Join(err, os.RemoveAll(s.folder))
}

// Found makes an institution and gives its key of every scope. It has a first person,
// or, if it is for a restoration, only the key's person.
func (s *Service) Found(ctx context.Context, f postgres.Founding) (access.Key, error) {
	f.TimeZone, f.Scopes = "Europe/Vienna", access.Scopes()
	key, err := postgres.Found(ctx, s.dsn(owner, database), s.store, f)
	if err != nil {
		return access.Key{}, fmt.Errorf("founding an institution: %w", err)
	}
	return key, nil
}

// Verify runs the program's verify, which compares everything that is stored with the
// facts that it was made from.
func (s *Service) Verify(ctx context.Context) error {
	c := exec.CommandContext(ctx, s.program, "verify")
	c.Env = s.env
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
