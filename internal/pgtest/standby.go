package pgtest

import (
	"context"
	"io/fs"
	"os"
	"path/filepath"
	"syscall"
	"testing"

	"github.com/jackc/pgx/v5/pgxpool"
)

// Standby starts a second server that follows this one, which is stopped for a moment: it is a
// copy of the same data.
func (s *Server) Standby(t testing.TB) *Server {
	t.Helper()
	s.Stop(t)
	standby := &Server{dir: filepath.Join(filepath.Dir(s.dir), "standby")}
	if err := copied(s.dir, standby.dir); err != nil {
		t.Fatalf("pgtest: copying the cluster: %v", err)
	}
	s.Start(t)
	first := s.address(t)
	standby.settings = map[string]string{"primary_conninfo": first.String()}
	signal := filepath.Join(standby.dir, "data", "standby.signal")
	if err := os.WriteFile(signal, nil, 0o644); err != nil {
		t.Fatalf("pgtest: %v", err)
	}
	standby.Start(t)
	t.Cleanup(func() { _ = standby.pg.Stop(context.Background()) })
	standby.DB = DB{name: s.name, server: &server{what: "a standby of a test's own", admin: standby.address(t)}}
	return standby
}

// Pause stops what follows the first server from following, and Resume lets it go on.
func (s *Server) Pause(t testing.TB)  { s.replay(t, `select pg_wal_replay_pause()`) }
func (s *Server) Resume(t testing.TB) { s.replay(t, `select pg_wal_replay_resume()`) }

func (s *Server) replay(t testing.TB, sql string) {
	t.Helper()
	pool, err := pgxpool.New(t.Context(), s.Super())
	if err != nil {
		t.Fatalf("pgtest: %v", err)
	}
	defer pool.Close()
	if _, err := pool.Exec(t.Context(), sql); err != nil {
		t.Fatalf("pgtest: %v", err)
	}
	for paused := ""; sql == `select pg_wal_replay_pause()` && paused != "paused"; {
		if err := pool.QueryRow(t.Context(), `select pg_get_wal_replay_pause_state()`).Scan(&paused); err != nil {
			t.Fatalf("pgtest: %v", err)
		}
	}
}

// copied copies a folder with the owners and rights of its files.
func copied(from, to string) error {
	return filepath.WalkDir(from, func(path string, entry fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		name, err := filepath.Rel(from, path)
		if err != nil {
			return err
		}
		info, err := entry.Info()
		if err != nil {
			return err
		}
		dest := filepath.Join(to, name)
		switch {
		case entry.IsDir():
			err = os.Mkdir(dest, info.Mode().Perm())
		case info.Mode().IsRegular():
			var content []byte
			if content, err = os.ReadFile(path); err == nil {
				err = os.WriteFile(dest, content, info.Mode().Perm())
			}
		default:
			return nil // no socket, and Postgres makes no links here
		}
		if owner, known := info.Sys().(*syscall.Stat_t); known && err == nil {
			err = os.Lchown(dest, int(owner.Uid), int(owner.Gid))
		}
		return err
	})
}
