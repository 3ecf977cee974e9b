package localpg

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
)

// helperDir is the environment variable that makes the test binary start a server in
// that folder and wait. It is the parent that the tests kill.
const helperDir = "LOCALPG_TEST_HELPER_DIR"

func TestMain(m *testing.M) {
	if dir := os.Getenv(helperDir); dir != "" {
		helper(dir)
	}
	code := m.Run()
	if seed.dir != "" {
		_ = os.RemoveAll(seed.dir)
	}
	os.Exit(code)
}

// seed is one stopped cluster, copied by the tests that do not test making one.
var seed struct {
	once sync.Once
	dir  string
	err  error
}

func makeSeed() {
	if seed.dir, seed.err = os.MkdirTemp("", "localpg-test-"); seed.err != nil {
		return
	}
	if seed.err = os.Chmod(seed.dir, 0o755); seed.err != nil {
		return
	}
	var s *Server
	if s, seed.err = Start(context.Background(), Config{Dir: filepath.Join(seed.dir, "cluster")}); seed.err != nil {
		return
	}
	if seed.err = s.Stop(context.Background()); seed.err != nil {
		return
	}
	seed.err = os.Remove(s.place.lockFile())
}

// cluster is the folder of a stopped cluster.
func cluster(t *testing.T) string {
	t.Helper()
	seed.once.Do(makeSeed)
	if seed.err != nil {
		t.Fatal(seed.err)
	}
	dir := filepath.Join(folder(t), "cluster")
	if out, err := exec.Command("cp", "-a", filepath.Join(seed.dir, "cluster"), dir).CombinedOutput(); err != nil {
		t.Fatalf("copying a cluster: %v: %s", err, out)
	}
	return dir
}

func helper(dir string) {
	s, err := Start(context.Background(), Config{Dir: dir})
	if err != nil {
		fmt.Println("failed:", err)
		os.Exit(1)
	}
	fmt.Printf("ready uid=%d pid=%d\n", os.Geteuid(), s.proc.pid())
	select {}
}

// folder is a fresh folder that an unprivileged server can reach, unlike the
// one of t.TempDir when the tests run as root.
func folder(t *testing.T) string {
	t.Helper()
	dir, err := os.MkdirTemp("", "localpg-test-")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		_ = os.RemoveAll(dir)
		_ = os.RemoveAll(socketDir(filepath.Join(dir, "cluster")))
	})
	if err := os.Chmod(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	return dir
}

func start(t *testing.T, cfg Config) *Server {
	t.Helper()
	cfg.Progress = func(s string) { t.Log(s) }
	s, err := Start(t.Context(), cfg)
	if err != nil {
		t.Fatalf("starting: %v", err)
	}
	t.Cleanup(func() { _ = s.Stop(context.Background()) })
	return s
}

func ask(t *testing.T, s *Server, sql string) string {
	t.Helper()
	conn, err := pgx.Connect(t.Context(), s.DSN(Superuser, "postgres"))
	if err != nil {
		t.Fatalf("connecting: %v", err)
	}
	defer conn.Close(context.Background())
	rows, err := conn.Query(t.Context(), sql)
	if err != nil {
		t.Fatalf("%s: %v", sql, err)
	}
	answers, err := pgx.CollectRows(rows, pgx.RowTo[string])
	if err != nil {
		t.Fatalf("%s: %v", sql, err)
	}
	return strings.Join(answers, ",")
}

func TestEphemeralServer(t *testing.T) {
	t.Parallel()
	s := start(t, Config{Ephemeral: true})
	for setting, want := range map[string]string{
		"listen_addresses": "",
		"fsync":            "off",
		"server_encoding":  "UTF8",
		"lc_collate":       "C",
		"timezone":         "UTC",
		"data_directory":   s.place.dataDir(),
	} {
		if got := ask(t, s, "show "+setting); got != want {
			t.Errorf("%s: got %q, want %q", setting, got, want)
		}
	}
	if owner, ok := ownerOf(s.place.dataDir()); os.Geteuid() == 0 && (!ok || owner.uid == 0) {
		t.Errorf("the data folder belongs to root")
	}
	if info, err := os.Stat(s.place.socketDir); err != nil || info.Mode().Perm() != 0o700 {
		t.Errorf("socket folder: got %v, %v; want it closed to others", info.Mode(), err)
	}
	if err := s.Stop(t.Context()); err != nil {
		t.Fatal(err)
	}
	for _, left := range []string{s.place.dir, s.place.socketDir} {
		if _, err := os.Stat(left); !os.IsNotExist(err) {
			t.Errorf("%s is left after Stop", left)
		}
	}
}

func TestRestartKeepsData(t *testing.T) {
	t.Parallel()
	dir := cluster(t)
	first := start(t, Config{Dir: dir})
	if got := ask(t, first, "show fsync"); got != "on" {
		t.Errorf("fsync of a persistent cluster: got %q, want on", got)
	}
	ask(t, first, "create table kept as select 'still here' as word")
	if err := first.Stop(t.Context()); err != nil {
		t.Fatal(err)
	}
	second := start(t, Config{Dir: dir})
	if got := ask(t, second, "select word from kept"); got != "still here" {
		t.Errorf("after a restart: got %q, want the row", got)
	}
}

func TestCrashedServerRecovers(t *testing.T) {
	t.Parallel()
	dir := cluster(t)
	first := start(t, Config{Dir: dir})
	ask(t, first, "create table kept as select 'still here' as word")
	ended, cancel := context.WithCancel(t.Context())
	cancel()
	if err := first.Stop(ended); !errors.Is(err, context.Canceled) {
		t.Fatalf("got %v, want the server killed", err)
	}
	<-first.Done()
	if err := first.Stop(t.Context()); err != nil {
		t.Fatalf("stopping a server that is dead: %v", err)
	}
	second := start(t, Config{Dir: dir})
	if got := ask(t, second, "select word from kept"); got != "still here" {
		t.Errorf("after a crash: got %q, want the row", got)
	}
}

func TestFolderIsHeldByOneProcess(t *testing.T) {
	t.Parallel()
	dir := cluster(t)
	s := start(t, Config{Dir: dir})
	_, err := Start(t.Context(), Config{Dir: dir})
	if !errors.Is(err, errInUse) {
		t.Errorf("second start: got %v, want errInUse", err)
	}
	if err := Remove(t.Context(), dir); !errors.Is(err, errInUse) {
		t.Errorf("removing: got %v, want errInUse", err)
	}
	if err := s.Stop(t.Context()); err != nil {
		t.Fatal(err)
	}
	if err := Remove(t.Context(), dir); err != nil {
		t.Errorf("removing a stopped cluster: %v", err)
	}
	if _, err := os.Stat(dir); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("the folder is still there: %v", err)
	}
}

func TestKilledParent(t *testing.T) {
	t.Parallel()
	dir := cluster(t)
	parent := runHelper(t, dir, nil)
	pl := place{dir: dir, socketDir: socketDir(dir)}
	if !answers(t.Context(), pl) {
		t.Fatal("the helper's server does not answer")
	}
	if err := parent.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	_ = parent.Wait()
	if runtime.GOOS == "linux" {
		if err := awaitGone(t.Context(), pl); err != nil {
			t.Fatalf("the killed parent's server: %v", err)
		}
	}
	s := start(t, Config{Dir: dir})
	if got := ask(t, s, "select 'works'"); got != "works" {
		t.Errorf("got %q, want an answer", got)
	}
}

// runHelper starts this test binary as a parent with a server, and waits until
// the server answers.
func runHelper(t *testing.T, dir string, attr *syscall.SysProcAttr) *exec.Cmd {
	t.Helper()
	program, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	if attr != nil {
		program = copyProgram(t, program, filepath.Dir(dir))
	}
	cmd := exec.Command(program)
	cmd.Env = append(os.Environ(), helperDir+"="+dir, "HOME="+filepath.Dir(dir))
	cmd.Dir = filepath.Dir(dir)
	cmd.SysProcAttr = attr
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = cmd.Process.Kill(); _ = cmd.Wait() })
	line, err := bufio.NewReader(out).ReadString('\n')
	if err != nil || !strings.HasPrefix(line, "ready ") {
		t.Fatalf("helper: got %q, %v", line, err)
	}
	t.Log(line)
	return cmd
}

// copyProgram copies a program. Nothing forks meanwhile: a child would have the file open for writing,
// and what is open for writing cannot be run.
func copyProgram(t *testing.T, from, dir string) string {
	t.Helper()
	syscall.ForkLock.RLock()
	defer syscall.ForkLock.RUnlock()
	in, err := os.Open(from)
	if err != nil {
		t.Fatal(err)
	}
	defer in.Close()
	to := filepath.Join(dir, "program")
	out, err := os.OpenFile(to, os.O_CREATE|os.O_WRONLY, 0o755)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := io.Copy(out, in); err != nil {
		t.Fatal(err)
	}
	if err := out.Close(); err != nil {
		t.Fatal(err)
	}
	return to
}

// A user without rights runs the server as itself.
func TestUnprivilegedCaller(t *testing.T) {
	t.Parallel()
	if os.Geteuid() != 0 {
		t.Log("the tests themselves run without rights, so every other test shows it")
		return
	}
	dir := folder(t)
	if err := os.Chown(dir, nobody, nobody); err != nil {
		t.Fatal(err)
	}
	cluster := filepath.Join(dir, "cluster")
	runHelper(t, cluster, &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: nobody, Gid: nobody}})
	if owner, ok := ownerOf(filepath.Join(cluster, "data")); !ok || owner.uid != nobody {
		t.Errorf("data folder: got owner %+v, %v; want %d", owner, ok, nobody)
	}
}

// A server that survived the death of its parent, as on macOS.
func TestOrphanIsStopped(t *testing.T) {
	t.Parallel()
	dir := cluster(t)
	who, err := runAs(dir)
	if err != nil {
		t.Fatal(err)
	}
	pl, err := makePlace(Config{Dir: dir}, who)
	if err != nil {
		t.Fatal(err)
	}
	bin, err := binaries(t.Context(), pl, Config{})
	if err != nil {
		t.Fatal(err)
	}
	orphan := pl.command(context.Background(), bin.tool("postgres"), serverArgs(pl, Config{})...)
	if err := orphan.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = orphan.Process.Kill() })
	p := &process{cmd: orphan, done: make(chan struct{})}
	go func() { _ = orphan.Wait(); close(p.done) }()
	if err := p.awaitReady(t.Context(), pl); err != nil {
		t.Fatal(err)
	}
	second := start(t, Config{Dir: dir})
	<-p.done
	if got := ask(t, second, "select 'works'"); got != "works" {
		t.Errorf("after an orphan: got %q, want an answer", got)
	}
}

// After a reboot or in a new container, the number in a pid file may be that of another
// process.
func TestPidFileOfSomebodyElse(t *testing.T) {
	t.Parallel()
	dir := cluster(t)
	who, err := runAs(dir)
	if err != nil {
		t.Fatal(err)
	}
	pl := place{dir: dir, socketDir: socketDir(dir), who: who}
	stale := fmt.Sprintf("%d\n%s\n1\n5432\n%s\n\n", os.Getppid(), pl.dataDir(), pl.socketDir)
	if err := os.WriteFile(pl.pidFile(), []byte(stale), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := who.own(pl.pidFile()); err != nil {
		t.Fatal(err)
	}
	start(t, Config{Dir: dir})
	if err := syscall.Kill(os.Getppid(), 0); err != nil {
		t.Errorf("the innocent process was ended: %v", err)
	}
}

func TestUnfinishedClusterIsMadeAgain(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(folder(t), "cluster")
	who, err := runAs(dir)
	if err != nil {
		t.Fatal(err)
	}
	pl, err := makePlace(Config{Dir: dir}, who)
	if err != nil {
		t.Fatal(err)
	}
	half := pl.dataDir() + ".new"
	if err := os.MkdirAll(filepath.Join(half, "base"), 0o700); err != nil {
		t.Fatal(err)
	}
	s := start(t, Config{Dir: dir})
	if got := ask(t, s, "select 'works'"); got != "works" {
		t.Errorf("got %q, want an answer", got)
	}
}

func TestSweepRemovesWhatAKilledProcessLeft(t *testing.T) {
	t.Parallel()
	who, err := runAs("")
	if err != nil {
		t.Fatal(err)
	}
	pl, err := makePlace(Config{Ephemeral: true}, who)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = os.RemoveAll(pl.dir); _ = os.RemoveAll(pl.socketDir) })
	lock, err := takeLock(pl)
	if err != nil {
		t.Fatal(err)
	}
	old := time.Now().Add(-time.Hour)
	age := func() {
		if err := os.Chtimes(pl.dir, old, old); err != nil {
			t.Fatal(err)
		}
	}
	age()
	log := Config{}.withDefaults().Log
	sweep(t.Context(), who, log)
	if _, err := os.Stat(pl.dir); err != nil {
		t.Fatalf("a folder in use was swept: %v", err)
	}
	unlock(lock)
	sweep(t.Context(), who, log)
	if _, err := os.Stat(pl.dir); !os.IsNotExist(err) {
		t.Errorf("an abandoned folder was not swept: %v", err)
	}
}

func TestStartSaysWhatIsWrong(t *testing.T) {
	t.Parallel()
	other := cluster(t)
	if err := os.WriteFile(filepath.Join(other, "data", "PG_VERSION"), []byte("12\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	closed := folder(t)
	if err := os.Chmod(closed, 0o700); err != nil {
		t.Fatal(err)
	}
	for name, tc := range map[string]struct {
		cfg      Config
		want     string
		rootOnly bool
	}{
		"no binaries":         {cfg: Config{Dir: filepath.Join(folder(t), "c"), Search: []string{"/nowhere"}, Fetch: Fetch{Off: true}}, want: "apt-get install postgresql"},
		"no folder":           {cfg: Config{}, want: "needs a folder"},
		"cluster of another":  {cfg: Config{Dir: other}, want: "was made by Postgres 12"},
		"folder out of reach": {cfg: Config{Dir: filepath.Join(closed, "c")}, want: "may not enter", rootOnly: true},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			if tc.rootOnly && os.Geteuid() != 0 {
				t.Log("only root changes user")
				return
			}
			_, err := Start(t.Context(), tc.cfg)
			if err == nil || !strings.Contains(err.Error(), tc.want) {
				t.Errorf("got %v, want it to say %q", err, tc.want)
			}
		})
	}
}
