package localpg

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"time"

	"github.com/jackc/pgx/v5/pgconn"
)

// stopOrphan ends a server that a killed process left on this cluster. The caller holds
// the cluster's lock, so no living process owns that server. The pid file is checked by
// connecting, because its number may belong to another process by now.
func stopOrphan(ctx context.Context, pl place, log *slog.Logger) error {
	pid, ok := pidIn(pl.pidFile())
	if !ok {
		return nil
	}
	if !answers(ctx, pl) {
		log.Debug("removing the pid file of a dead server", "dir", pl.dir, "pid", pid)
		_ = os.Remove(pl.socketFile())
		if err := os.Remove(pl.pidFile()); err != nil && !os.IsNotExist(err) {
			return fmt.Errorf("removing a dead server's pid file: %w", err)
		}
		return nil
	}
	log.Info("stopping a database server that was left running", "dir", pl.dir, "pid", pid)
	if err := syscall.Kill(pid, syscall.SIGINT); err != nil && !errors.Is(err, syscall.ESRCH) {
		return fmt.Errorf("stopping the server that was left running (pid %d): %w", pid, err)
	}
	return awaitGone(ctx, pl)
}

// answers tells whether this cluster's own server is running, even if it is only
// starting or shutting down.
func answers(ctx context.Context, pl place) bool {
	dir, err := askDataDir(ctx, pl)
	if err == nil {
		return dir == pl.dataDir()
	}
	var refusal *pgconn.PgError
	return errors.As(err, &refusal)
}

// awaitGone waits until the server has removed its pid file, which it does last.
func awaitGone(ctx context.Context, pl place) error {
	ctx, cancel := context.WithTimeout(ctx, 30*time.Second)
	defer cancel()
	for {
		if _, ok := pidIn(pl.pidFile()); !ok {
			return nil
		}
		if err := pause(ctx); err != nil {
			return fmt.Errorf("waiting for the server that was left running: %w", err)
		}
	}
}

// pidIn reads the first line of a postmaster.pid.
func pidIn(path string) (int, bool) {
	text, err := os.ReadFile(path)
	if err != nil {
		return 0, false
	}
	first, _, _ := strings.Cut(string(text), "\n")
	pid, err := strconv.Atoi(strings.TrimSpace(first))
	return pid, err == nil && pid > 1
}

// sweep removes what killed processes left of ephemeral clusters: a cluster whose lock
// is free has no owner. It skips folders of other users, and new ones, which may be
// about to take their lock.
func sweep(ctx context.Context, who account, log *slog.Logger) {
	dirs, _ := filepath.Glob(filepath.Join(os.TempDir(), ephemeralPrefix+"*"))
	for _, dir := range dirs {
		if !who.owns(dir) || youngerThan(dir, time.Minute) {
			continue
		}
		pl := place{dir: dir, socketDir: socketDir(dir), who: who}
		lock, err := openLock(pl.lockFile(), os.O_RDWR)
		if err != nil {
			continue
		}
		if stopOrphan(ctx, pl, log) == nil {
			_ = os.RemoveAll(pl.socketDir)
			_ = os.RemoveAll(pl.dir)
		}
		unlock(lock)
	}
}

func youngerThan(dir string, age time.Duration) bool {
	info, err := os.Lstat(dir)
	return err != nil || time.Since(info.ModTime()) < age
}
