package localpg

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"sort"
	"strconv"
	"strings"
)

// oldest is the first major version with CREATE DATABASE … STRATEGY.
const oldest = 15

// errNoBinaries says that there is no Postgres on this machine and none could
// be fetched. The message names every way to get one.
var errNoBinaries = errors.New("no Postgres 15 or newer was found on this machine and none could be fetched: install " +
	"it (Debian: apt-get install postgresql; macOS: brew install postgresql), or use a running server: " +
	"MENISCUS_DATABASE_URL for serve, MENISCUS_TEST_DATABASE_URL for the tests")

// binDir is a folder with Postgres programs that the cluster's user can run.
type binDir struct {
	path    string
	major   int
	version string // as the program prints it: 15.18
}

func (b binDir) tool(name string) string { return filepath.Join(b.path, name) }

// binaries finds programs that fit the cluster, or fetches some.
func binaries(ctx context.Context, pl place, cfg Config) (binDir, error) {
	want := pl.clusterVersion()
	search := cfg.Search
	if search == nil {
		search = candidates()
	}
	for _, dir := range search {
		if bin, ok := probe(ctx, pl, dir); ok && bin.fits(want) {
			return bin, nil
		}
	}
	if want != "" && want != fetchedMajor {
		return binDir{}, fmt.Errorf("the cluster in %s was made by Postgres %s, which is not on this machine: "+
			"install that version, or start over with an empty folder", pl.dir, want)
	}
	return fetched(ctx, pl, cfg)
}

// fits says whether these programs can run a cluster made by version want.
func (b binDir) fits(want string) bool {
	return b.major >= oldest && (want == "" || want == strconv.Itoa(b.major))
}

// candidates are the folders to look in: PATH, pg_config, Debian's, Red Hat's
// and Homebrew's, the newest version first.
func candidates() []string {
	var dirs []string
	if path, err := exec.LookPath("postgres"); err == nil {
		dirs = append(dirs, resolved(path))
	}
	if out, err := exec.Command("pg_config", "--bindir").Output(); err == nil {
		dirs = append(dirs, strings.TrimSpace(string(out)))
	}
	for _, pattern := range []string{
		"/usr/lib/postgresql/*/bin",
		"/usr/pgsql-*/bin",
		"/opt/homebrew/opt/postgresql*/bin",
		"/usr/local/opt/postgresql*/bin",
		"/Applications/Postgres.app/Contents/Versions/*/bin",
	} {
		found, _ := filepath.Glob(pattern)
		sort.Slice(found, func(i, j int) bool { return versionIn(found[i]) > versionIn(found[j]) })
		dirs = append(dirs, found...)
	}
	return dirs
}

// resolved follows links, because the server looks for its share folder beside
// the file that it was started as.
func resolved(program string) string {
	if real, err := filepath.EvalSymlinks(program); err == nil {
		program = real
	}
	return filepath.Dir(program)
}

var number = regexp.MustCompile(`[0-9]+`)

func versionIn(path string) int {
	n, _ := strconv.Atoi(number.FindString(path))
	return n
}

var versionLine = regexp.MustCompile(`\(PostgreSQL\) (([0-9]+)[.0-9a-z]*)`)

// probe asks the programs for their version as the cluster's user, so that a
// folder closed to that user does not count.
func probe(ctx context.Context, pl place, dir string) (binDir, bool) {
	bin := binDir{path: dir}
	if _, err := os.Stat(bin.tool("initdb")); err != nil {
		return binDir{}, false
	}
	out, err := pl.command(ctx, bin.tool("postgres"), "--version").Output()
	if err != nil {
		return binDir{}, false
	}
	m := versionLine.FindStringSubmatch(string(out))
	if m == nil {
		return binDir{}, false
	}
	bin.version = m[1]
	bin.major, _ = strconv.Atoi(m[2])
	return bin, true
}
