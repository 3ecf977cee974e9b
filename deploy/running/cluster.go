package running

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net"
	"net/http"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"time"
)

// cluster is two servers of Postgres that Patroni manages with etcd: what one acknowledges, the
// other has, and takes its place when it ends.
type cluster struct {
	folder string
	etcd   *exec.Cmd
	store  string // the address of etcd
	nodes  [2]node
}

type node struct {
	name, folder string
	port, rest   int
	runs         []string // the command
	patroni      *exec.Cmd
}

// StartClustered is Start on a cluster of two servers.
func StartClustered(ctx context.Context, program string, settings ...string) (*Service, error) {
	s := &Service{Instance: &Instance{program: program}}
	err := s.prepare(ctx, func() error {
		s.cluster = &cluster{folder: filepath.Join(s.folder, "cluster")}
		s.dsn = s.cluster.address
		return s.cluster.start(ctx)
	})
	if err == nil {
		err = s.serve(func(role string) string { return s.dsn(role, database) }, settings)
	}
	return s.orStopped(err)
}

// address names both servers; a client takes the one that takes writes.
func (c *cluster) address(role, database string) string {
	return fmt.Sprintf("postgres://%s@127.0.0.1:%d,127.0.0.1:%d/%s?target_session_attrs=read-write", role, c.nodes[0].port,
		c.nodes[1].port, database)
}

// settings of Patroni: a standby that has everything takes over at once when the leader's Postgres
// ends, and after twenty seconds, the least there is, when its Patroni does not answer.
const patroni = `scope: meniscus
name: %[1]s
restapi: {listen: "127.0.0.1:%[2]d", connect_address: "127.0.0.1:%[2]d"}
etcd3: {host: "%[3]s"}
bootstrap:
  dcs:
    ttl: 20
    loop_wait: 1
    retry_timeout: 3
    primary_start_timeout: 0
    synchronous_mode: true
    postgresql: {use_pg_rewind: true, parameters: {max_connections: 200, wal_log_hints: "on"}}
  initdb: [{encoding: UTF8}, {locale: C}]
postgresql:
  listen: "127.0.0.1:%[4]d"
  connect_address: "127.0.0.1:%[4]d"
  data_dir: %[5]s/data
  bin_dir: %[6]s
  pgpass: %[5]s/pgpass
  authentication: {superuser: {username: postgres}, replication: {username: replicator}, rewind: {username: postgres}}
  pg_hba: ["local all all trust", "host all all 127.0.0.1/32 trust", "host replication all 127.0.0.1/32 trust"]
  parameters: {unix_socket_directories: "%[5]s"}
`

func (c *cluster) start(ctx context.Context) error {
	ports, err := freePorts(6)
	if err != nil {
		return err
	}
	if err := os.Mkdir(c.folder, 0o755); err != nil {
		return err
	}
	c.store = fmt.Sprintf("127.0.0.1:%d", ports[0])
	peer := fmt.Sprintf("http://127.0.0.1:%d", ports[1])
	c.etcd, err = launched("etcd", "--data-dir", filepath.Join(c.folder, "etcd"), "--listen-client-urls", "http://"+c.store,
		"--advertise-client-urls", "http://"+c.store, "--listen-peer-urls", peer, "--initial-advertise-peer-urls", peer,
		"--initial-cluster", "default="+peer, "--log-level", "error")
	if err != nil {
		return err
	}
	for i := range c.nodes {
		n := &c.nodes[i]
		*n = node{name: "n" + strconv.Itoa(i), port: ports[2+2*i], rest: ports[3+2*i]}
		if err := n.prepare(c.folder, c.store); err != nil {
			return err
		}
		if err := n.start(); err != nil {
			return err
		}
		if err := c.await(ctx, i+1); err != nil {
			return err
		}
	}
	return nil
}

// prepare writes the node's settings, into a folder of whoever Postgres may run as.
func (n *node) prepare(folder, store string) error {
	found, err := filepath.Glob("/usr/lib/postgresql/*/bin")
	if err != nil || len(found) == 0 {
		return fmt.Errorf("looking for Postgres in /usr/lib/postgresql: %w", err)
	}
	n.folder = filepath.Join(folder, n.name)
	if err := os.Mkdir(n.folder, 0o700); err != nil {
		return err
	}
	settings := filepath.Join(n.folder, "patroni.yaml")
	text := fmt.Sprintf(patroni, n.name, n.rest, store, n.port, n.folder, slices.Max(found))
	if err := os.WriteFile(settings, []byte(text), 0o600); err != nil {
		return err
	}
	n.runs = []string{"patroni", settings}
	if os.Geteuid() != 0 {
		return nil
	}
	n.runs = append([]string{"setpriv", "--reuid=postgres", "--regid=postgres", "--clear-groups"}, n.runs...)
	who, err := user.Lookup("postgres")
	if err != nil {
		return err
	}
	uid, _ := strconv.Atoi(who.Uid) // on this system they are numbers
	gid, _ := strconv.Atoi(who.Gid)
	return errors.Join(os.Chown(n.folder, uid, gid), os.Chown(settings, uid, gid))
}

func (n *node) start() (err error) {
	n.patroni, err = launched(n.runs[0], n.runs[1:]...)
	return err
}

// launched starts a program that ends with this process.
func launched(program string, args ...string) (*exec.Cmd, error) {
	c := exec.Command(program, args...)
	c.Dir = "/"
	c.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
	if err := c.Start(); err != nil {
		return nil, fmt.Errorf("starting %s: %w", program, err)
	}
	return c, nil
}

// await waits until so many servers run, one of which leads and the other has all that it has.
func (c *cluster) await(ctx context.Context, servers int) error {
	for began := time.Now(); time.Since(began) < 2*time.Minute && ctx.Err() == nil; time.Sleep(100 * time.Millisecond) {
		roles := c.roles(ctx)
		if slices.Contains(roles, "leader") && (servers == 1 || slices.Contains(roles, "sync_standby")) {
			return nil
		}
	}
	return fmt.Errorf("the cluster does not come to %d servers: %v", servers, c.roles(ctx))
}

// roles are those of the servers that run, by number; "" of one that does not.
func (c *cluster) roles(ctx context.Context) []string {
	roles := make([]string, len(c.nodes))
	for _, ask := range c.nodes {
		var said struct {
			Members []struct{ Name, Role, State string }
		}
		if get(ctx, fmt.Sprintf("http://127.0.0.1:%d/cluster", ask.rest), &said) != nil {
			continue
		}
		for _, m := range said.Members {
			if at := slices.IndexFunc(c.nodes[:], func(n node) bool { return n.name == m.Name }); at >= 0 &&
				(m.State == "running" || m.State == "streaming") {
				roles[at] = m.Role
			}
		}
		return roles
	}
	return roles
}

func get(ctx context.Context, address string, into any) error {
	r, err := http.NewRequestWithContext(ctx, http.MethodGet, address, nil)
	if err != nil {
		return err
	}
	answer, err := (&http.Client{Timeout: 2 * time.Second}).Do(r)
	if err != nil {
		return err
	}
	defer func() { _ = answer.Body.Close() }()
	return json.NewDecoder(answer.Body).Decode(into)
}

// Failover kills the leader's Postgres, and with it what manages it if the whole machine is to be
// gone; it returns when the other leads and the first follows it.
func (s *Service) Failover(ctx context.Context, wholeMachine bool) error {
	leader := slices.Index(s.cluster.roles(ctx), "leader")
	if leader < 0 {
		return errors.New("no server leads")
	}
	n := &s.cluster.nodes[leader]
	if wholeMachine {
		n.killPatroni()
	}
	if err := n.killPostgres(); err != nil {
		return err
	}
	other := 1 - leader
	for began := time.Now(); s.cluster.roles(ctx)[other] != "leader"; time.Sleep(100 * time.Millisecond) {
		if time.Since(began) > 2*time.Minute || ctx.Err() != nil {
			return fmt.Errorf("nobody took over: %v", s.cluster.roles(ctx))
		}
	}
	if wholeMachine {
		if err := n.start(); err != nil {
			return err
		}
	}
	return s.cluster.await(ctx, 2)
}

func (n *node) killPatroni() {
	_ = n.patroni.Process.Kill()
	_ = n.patroni.Wait() // it was killed
}

func (n *node) killPostgres() error {
	text, err := os.ReadFile(filepath.Join(n.folder, "data", "postmaster.pid"))
	if err != nil {
		return err
	}
	first, _, _ := strings.Cut(string(text), "\n")
	pid, err := strconv.Atoi(strings.TrimSpace(first))
	if err != nil {
		return err
	}
	return syscall.Kill(pid, syscall.SIGKILL)
}

// stop ends both servers and etcd.
func (c *cluster) stop() {
	for i := range c.nodes {
		if c.nodes[i].patroni != nil {
			c.nodes[i].killPatroni()
			_ = c.nodes[i].killPostgres() // it may not run
		}
	}
	if c.etcd != nil {
		_ = c.etcd.Process.Kill()
		_ = c.etcd.Wait()
	}
}

// freePorts are ports that nobody listens at.
func freePorts(n int) ([]int, error) {
	ports := make([]int, n)
	for i := range ports {
		l, err := net.Listen("tcp", "127.0.0.1:0")
		if err != nil {
			return nil, err
		}
		defer func() { _ = l.Close() }() // together, so that no two are the same
		ports[i] = l.Addr().(*net.TCPAddr).Port
	}
	return ports, nil
}
