package localpg

import (
	"archive/zip"
	"bytes"
	"crypto/sha256"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
)

// The archive is made from this machine's programs, so the test needs no network; only
// its label has the version that is fetched elsewhere.
func TestBinariesAreFetchedOnce(t *testing.T) {
	t.Parallel()
	archive := machineArchive(t)
	var served atomic.Int32
	repository := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if strings.HasSuffix(r.URL.Path, ".sha256") {
			fmt.Fprintf(w, "%x", sha256.Sum256(archive))
			return
		}
		served.Add(1)
		_, _ = w.Write(archive)
	}))
	defer repository.Close()

	dir := folder(t)
	cfg := Config{Ephemeral: true, Search: []string{"/nowhere"},
		Fetch: Fetch{Repository: repository.URL, Cache: filepath.Join(dir, "cache")}}
	for range 2 {
		s := start(t, cfg)
		if got := ask(t, s, "select 'works'"); got != "works" {
			t.Errorf("got %q, want an answer", got)
		}
	}
	if got := served.Load(); got != 1 {
		t.Errorf("archive served %d times, want once", got)
	}
}

func TestTamperedBinariesAreRefused(t *testing.T) {
	t.Parallel()
	repository := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if strings.HasSuffix(r.URL.Path, ".sha256") {
			fmt.Fprintf(w, "%x", sha256.Sum256([]byte("another archive")))
			return
		}
		_, _ = w.Write([]byte("this archive"))
	}))
	defer repository.Close()
	_, err := Start(t.Context(), Config{Ephemeral: true, Search: []string{"/nowhere"},
		Fetch: Fetch{Repository: repository.URL, Cache: filepath.Join(folder(t), "cache")}})
	if err == nil || !strings.Contains(err.Error(), "checksums do not match") {
		t.Errorf("got %v, want the checksum refused", err)
	}
}

// machineArchive packs this machine's programs as the module expects them: a
// zip archive with a tar.xz inside.
func machineArchive(t *testing.T) []byte {
	t.Helper()
	who, err := runAs("")
	if err != nil {
		t.Fatal(err)
	}
	bin, err := binaries(t.Context(), place{dir: "/", who: who}, Config{Fetch: Fetch{Off: true}})
	if err != nil {
		t.Fatal(err)
	}
	tarball := filepath.Join(t.TempDir(), "postgres.txz")
	tar := exec.Command("tar", "-cJf", tarball, "--exclude=bitcode", "-C", filepath.Dir(bin.path),
		"bin/postgres", "bin/initdb", "bin/pg_ctl", "lib")
	tar.Env = append(os.Environ(), "XZ_OPT=-0")
	if out, err := tar.CombinedOutput(); err != nil {
		t.Fatalf("packing (tar and xz are needed): %v: %s", err, out)
	}
	packed, err := os.ReadFile(tarball)
	if err != nil {
		t.Fatal(err)
	}
	var jar bytes.Buffer
	zw := zip.NewWriter(&jar)
	w, err := zw.Create("postgres.txz")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := w.Write(packed); err != nil {
		t.Fatal(err)
	}
	if err := zw.Close(); err != nil {
		t.Fatal(err)
	}
	return jar.Bytes()
}
