package localpg

import (
	"context"
	"crypto/sha256"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"syscall"
)

// socketPort is part of the socket's file name; there is no TCP port.
const socketPort = "5432"

// place is one cluster's folders and the user that owns them.
type place struct {
	dir       string // absolute; holds all of the cluster
	socketDir string // short, because a socket's path may have about 100 bytes
	who       account
	env       []string
}

func (pl place) dataDir() string    { return filepath.Join(pl.dir, "data") }
func (pl place) lockFile() string   { return filepath.Join(pl.dir, "lock") }
func (pl place) logFile() string    { return filepath.Join(pl.dir, "postgres.log") }
func (pl place) pidFile() string    { return filepath.Join(pl.dataDir(), "postmaster.pid") }
func (pl place) socketFile() string { return filepath.Join(pl.socketDir, ".s.PGSQL."+socketPort) }

// ephemeralPrefix marks temporary clusters, so that sweep finds leftovers.
const ephemeralPrefix = "meniscus-postgres-"

// makePlace makes the folders, owned by the user that will run the server.
func makePlace(cfg Config, who account) (place, error) {
	dir, err := clusterDir(cfg, who)
	if err != nil {
		return place{}, fmt.Errorf("making the database's folder: %w", err)
	}
	if err := who.reach(dir); err != nil {
		return place{}, err
	}
	pl := place{dir: dir, socketDir: socketDir(dir), who: who, env: cfg.Env}
	if err := ownedDir(pl.socketDir, who); err != nil {
		return place{}, fmt.Errorf("making the socket's folder: %w", err)
	}
	return pl, nil
}

func clusterDir(cfg Config, who account) (string, error) {
	if cfg.Dir == "" {
		if !cfg.Ephemeral {
			return "", fmt.Errorf("a persistent cluster needs a folder")
		}
		dir, err := os.MkdirTemp("", ephemeralPrefix)
		if err != nil {
			return "", err
		}
		return dir, who.own(dir)
	}
	dir, err := filepath.Abs(cfg.Dir)
	if err != nil {
		return "", err
	}
	if err := os.MkdirAll(filepath.Dir(dir), 0o755); err != nil {
		return "", err
	}
	return dir, ownedDir(dir, who)
}

// socketDir is the same for the same cluster, so that an orphan can be found.
// It is under /tmp because macOS's own temporary folder has too long a name.
func socketDir(dir string) string {
	sum := sha256.Sum256([]byte(dir))
	return fmt.Sprintf("/tmp/meniscus-%x", sum[:6])
}

// ownedDir makes dir, accessible only to who, or checks that it is: in /tmp another
// user could have made a folder of that name first.
func ownedDir(dir string, who account) error {
	if err := os.Mkdir(dir, 0o700); err == nil {
		return who.own(dir)
	} else if !os.IsExist(err) {
		return err
	}
	info, err := os.Lstat(dir)
	if err != nil {
		return err
	}
	st, ok := info.Sys().(*syscall.Stat_t)
	if !ok || !info.IsDir() {
		return fmt.Errorf("%s is not a folder", dir)
	}
	if int(st.Uid) == os.Geteuid() && who.switches {
		if err := emptyDir(dir); err != nil {
			return err
		}
		return who.own(dir)
	}
	if st.Uid != who.uid {
		return fmt.Errorf("%s belongs to user %d, and the server runs as user %d", dir, st.Uid, who.uid)
	}
	return os.Chmod(dir, 0o700)
}

// emptyDir refuses to give another user a folder of root's that has files in it.
func emptyDir(dir string) error {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return err
	}
	if len(entries) > 0 {
		return fmt.Errorf("%s belongs to root and is not empty: choose a new folder for the database", dir)
	}
	return nil
}

// initdb makes the cluster unless there is one. It works in a neighbouring
// folder and renames it, so that an interrupted run leaves no half cluster.
func (pl place) initdb(ctx context.Context, bin binDir, cfg Config) error {
	if pl.clusterVersion() != "" {
		return nil
	}
	cfg.Progress("Making a private Postgres cluster in " + pl.dir)
	fresh := pl.dataDir() + ".new"
	for _, stale := range []string{fresh, pl.dataDir()} {
		if err := os.RemoveAll(stale); err != nil {
			return fmt.Errorf("clearing an unfinished cluster: %w", err)
		}
	}
	args := []string{"-D", fresh, "--encoding=UTF8", "--locale=C",
		"--username=" + Superuser, "--auth=trust", "--no-instructions"}
	if cfg.Ephemeral {
		args = append(args, "--no-sync")
	}
	cmd := pl.command(ctx, bin.tool("initdb"), args...)
	if out, err := cmd.CombinedOutput(); err != nil {
		return fmt.Errorf("making the cluster: %w: %s", err, cause(out))
	}
	if err := os.Rename(fresh, pl.dataDir()); err != nil {
		return fmt.Errorf("naming the new cluster: %w", err)
	}
	return nil
}

// clusterVersion is the major version that made the cluster, or "".
func (pl place) clusterVersion() string {
	text, err := os.ReadFile(filepath.Join(pl.dataDir(), "PG_VERSION"))
	if err != nil {
		return ""
	}
	return strings.TrimSpace(string(text))
}

// cause is the line of a failed program's output that names the cause.
func cause(out []byte) string {
	lines := strings.Split(strings.TrimSpace(string(out)), "\n")
	for _, line := range lines {
		if strings.Contains(line, "FATAL") || strings.Contains(line, "error:") {
			return line
		}
	}
	return lines[len(lines)-1]
}
