package localpg

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	embedded "github.com/fergusstrange/embedded-postgres"
)

// fetchedMajor and fetchedVersion are the Postgres version that is fetched when none is
// found.
const (
	fetchedMajor   = "17"
	fetchedVersion = embedded.V17
)

// Fetch says where binaries come from when this machine has none. The zero
// value fetches from the module's own repository into the user's cache folder.
type Fetch struct {
	Off        bool   // never fetch
	Repository string // another address of the same layout, such as a mirror
	Cache      string // where binaries are kept between starts
}

// fetched returns binaries from the cache, and fetches them first if they are missing.
func fetched(ctx context.Context, pl place, cfg Config) (binDir, error) {
	if cfg.Fetch.Off {
		return binDir{}, errNoBinaries
	}
	home, err := cfg.Fetch.home()
	if err != nil {
		return binDir{}, err
	}
	dir := filepath.Join(home, "bin")
	if bin, ok := probe(ctx, pl, dir); ok {
		return bin, nil
	}
	cfg.Progress("Fetching Postgres " + string(fetchedVersion) + ", about 20 MB, once")
	if err := cfg.Fetch.into(home); err != nil {
		return binDir{}, fmt.Errorf("%w (%w)", errNoBinaries, err)
	}
	bin, ok := probe(ctx, pl, dir)
	if !ok {
		return binDir{}, fmt.Errorf("%w (what was fetched does not run here)", errNoBinaries)
	}
	return bin, nil
}

// home is the folder of the fetched version. Root's cache folder is closed to
// the user that runs the server, so root gets a system folder.
func (f Fetch) home() (string, error) {
	root := f.Cache
	if root == "" && os.Geteuid() == 0 {
		root = "/var/cache/meniscus"
	}
	if root == "" {
		cache, err := os.UserCacheDir()
		if err != nil {
			return "", fmt.Errorf("finding a cache folder: %w", err)
		}
		root = filepath.Join(cache, "meniscus")
	}
	return filepath.Join(root, "postgres-"+string(fetchedVersion)), nil
}

// into unpacks the binaries in a neighbouring folder and renames it, so that an
// interrupted fetch is never taken for a whole one.
//
// The module can only fetch as part of a start. It gets a data folder that looks like a
// cluster and is not one: it fetches and unpacks, and then the server fails to start.
// This function only checks that the programs are there.
func (f Fetch) into(home string) error {
	if err := os.MkdirAll(filepath.Dir(home), 0o755); err != nil {
		return err
	}
	work, err := os.MkdirTemp(filepath.Dir(home), "fetching-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(work)
	noCluster := filepath.Join(work, "none")
	if err := os.Mkdir(noCluster, 0o700); err != nil {
		return err
	}
	major, _, _ := strings.Cut(string(fetchedVersion), ".")
	if err := os.WriteFile(filepath.Join(noCluster, "PG_VERSION"), []byte(major+"\n"), 0o600); err != nil {
		return err
	}
	unpacked := filepath.Join(work, "postgres")
	if err := f.run(work, noCluster, unpacked); err != nil {
		return err
	}
	if err := os.Chmod(unpacked, 0o755); err != nil {
		return err
	}
	_ = os.RemoveAll(home)
	return os.Rename(unpacked, home)
}

func (f Fetch) run(work, noCluster, unpacked string) error {
	cfg := embedded.DefaultConfig().
		Version(fetchedVersion).
		Port(0).
		CachePath(filepath.Join(work, "archive")).
		RuntimePath(filepath.Join(work, "runtime")).
		DataPath(noCluster).
		BinariesPath(unpacked).
		Logger(io.Discard)
	if f.Repository != "" {
		cfg = cfg.BinaryRepositoryURL(f.Repository)
	}
	db := embedded.NewDatabase(cfg)
	err := db.Start()
	if err == nil {
		return errors.Join(errors.New("a folder without a cluster was started"), db.Stop())
	}
	if _, missing := os.Stat(filepath.Join(unpacked, "bin", "postgres")); missing != nil {
		return err
	}
	return nil
}
