// Package localpg runs a private Postgres from binaries, for the demo, for development
// and for tests, so that they need no installed and configured database.
//
// Guarantees: the server listens on a Unix socket in a folder that only its user can
// enter, never on the network; it runs as an unprivileged user even when the caller is
// root; on Linux it ends when the calling process ends, however that process ends;
// elsewhere an orphan is found and stopped at the next start; a persistent data folder
// survives restarts with fsync on, and only one process at a time can use it.
//
// It does not tune, back up or upgrade a cluster, or create roles or databases, and it
// is not for production, where Postgres is provided. It is independent of the schema.
// Linux and macOS only.
package localpg

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net/url"
	"os"
	"path/filepath"
	"sync"
	"time"
)

// Superuser is the role that initdb makes; it may do anything in the cluster.
const Superuser = "postgres"

// errInUse says that a living process holds the data folder. The caller should
// stop that process, or choose another folder.
var errInUse = errors.New("another process is using the data folder")

// Config is the configuration of a cluster. The zero value with Ephemeral set is
// complete.
type Config struct {
	// Dir holds the cluster, its lock and its log. It is made when missing. An
	// ephemeral cluster with no Dir gets a temporary one.
	Dir string
	// Ephemeral clusters run without fsync and are removed by Stop.
	Ephemeral bool
	// Log receives messages for developers; nil discards them.
	Log *slog.Logger
	// Progress receives short sentences for the user who waits for the start.
	Progress func(string)
	// Search lists folders to look for binaries in; nil means the usual ones.
	Search []string
	// Fetch configures how binaries are fetched when this machine has none.
	Fetch Fetch
	// Settings are further server settings, such as max_connections.
	Settings map[string]string
	// Env are further variables of the environment, such as LD_PRELOAD=….
	Env []string
}

// Server is a running private Postgres.
type Server struct {
	place     place
	ephemeral bool
	proc      *process
	lock      *os.File
	log       *slog.Logger
	released  sync.Once
}

// Start finds or fetches binaries, makes the cluster if there is none, and
// returns when the server accepts connections. A server that a killed process
// left behind on the same folder is stopped first.
func Start(ctx context.Context, cfg Config) (*Server, error) {
	cfg = cfg.withDefaults()
	who, err := runAs(cfg.Dir)
	if err != nil {
		return nil, err
	}
	if cfg.Ephemeral {
		sweep(ctx, who, cfg.Log)
	}
	pl, err := makePlace(cfg, who)
	if err != nil {
		return nil, err
	}
	lock, err := takeLock(pl)
	if err != nil {
		return nil, fmt.Errorf("locking %s: %w", pl.dir, err)
	}
	s := &Server{place: pl, ephemeral: cfg.Ephemeral, lock: lock, log: cfg.Log}
	if err := s.start(ctx, cfg); err != nil {
		s.release()
		return nil, err
	}
	return s, nil
}

func (s *Server) start(ctx context.Context, cfg Config) error {
	if err := stopOrphan(ctx, s.place, cfg.Log); err != nil {
		return err
	}
	bin, err := binaries(ctx, s.place, cfg)
	if err != nil {
		return err
	}
	if err := s.place.initdb(ctx, bin, cfg); err != nil {
		return err
	}
	cfg.Progress("Starting the private Postgres " + bin.version)
	s.proc, err = launch(ctx, s.place, bin, serverArgs(s.place, cfg))
	if err != nil {
		return err
	}
	s.log.Debug("private postgres is ready", "dir", s.place.dir, "pid", s.proc.pid())
	return nil
}

// Remove deletes a persistent cluster with its folder. It refuses with errInUse
// while a process holds the folder, and first stops a server that a killed
// process left there.
func Remove(ctx context.Context, dir string) error {
	if _, err := os.Stat(dir); errors.Is(err, os.ErrNotExist) {
		return nil
	}
	dir, err := filepath.Abs(dir)
	if err != nil {
		return err
	}
	who, err := runAs(dir)
	if err != nil {
		return err
	}
	pl := place{dir: dir, socketDir: socketDir(dir), who: who}
	lock, err := takeLock(pl)
	if err != nil {
		return fmt.Errorf("locking %s: %w", dir, err)
	}
	defer unlock(lock)
	if err := stopOrphan(ctx, pl, slog.New(slog.DiscardHandler)); err != nil {
		return err
	}
	if err := os.RemoveAll(pl.socketDir); err != nil {
		return fmt.Errorf("removing the socket's folder: %w", err)
	}
	return os.RemoveAll(dir)
}

// DSN is the connection string for a role and a database of this server.
func (s *Server) DSN(user, database string) string { return s.place.dsn(user, database) }

// PID is the server's process id; the processes of its sessions are its children.
func (s *Server) PID() int { return s.proc.pid() }

// Done is closed when the server has ended, whether by Stop or by itself.
func (s *Server) Done() <-chan struct{} { return s.proc.done }

// Stop shuts the server down (its sessions are ended, what was committed is kept) and removes the
// folder of an ephemeral cluster. If ctx ends first, the server is killed as by a crash; a
// persistent cluster then recovers at its next start.
func (s *Server) Stop(ctx context.Context) error {
	err := s.proc.stop(ctx)
	s.release()
	if err != nil {
		return fmt.Errorf("stopping the private Postgres: %w", err)
	}
	return nil
}

// release removes the temporary folders and then, once, releases the lock: from then on
// another server may use the folder.
func (s *Server) release() {
	s.released.Do(func() {
		_ = os.RemoveAll(s.place.socketDir)
		if s.ephemeral {
			_ = os.RemoveAll(s.place.dir)
		}
		unlock(s.lock)
	})
}

func (cfg Config) withDefaults() Config {
	if cfg.Log == nil {
		cfg.Log = slog.New(slog.DiscardHandler)
	}
	if cfg.Progress == nil {
		cfg.Progress = func(string) {}
	}
	return cfg
}

// serverArgs are the settings that the guarantees of this package need, then the
// caller's.
func serverArgs(pl place, cfg Config) []string {
	args := []string{"-D", pl.dataDir()}
	set := func(name, value string) { args = append(args, "-c", name+"="+value) }
	set("listen_addresses", "")
	set("unix_socket_directories", pl.socketDir)
	set("timezone", "UTC")
	set("log_timezone", "UTC")
	if cfg.Ephemeral {
		set("fsync", "off")
		set("full_page_writes", "off")
		set("max_connections", "200")
	}
	for name, value := range cfg.Settings {
		set(name, value)
	}
	return args
}

// startLimit bounds the wait for a server that neither answers nor ends; crash
// recovery of a demo-sized cluster takes well under a second.
const startLimit = time.Minute

func (pl place) dsn(user, database string) string {
	u := url.URL{Scheme: "postgres", User: url.User(user), Path: "/" + database}
	u.RawQuery = url.Values{"host": {pl.socketDir}, "port": {socketPort}}.Encode()
	return u.String()
}
