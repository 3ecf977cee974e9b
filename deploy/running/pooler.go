package running

import (
	"context"
	"fmt"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"time"

	"github.com/jackc/pgx/v5"

	"meniscus/internal/postgres"
)

// A pooler in transaction mode gives each transaction whichever connection is free: what is
// prepared under a name on one is not there on the next.
const throughPooler = "&default_query_exec_mode=cache_describe"

// StartPooled is Start with pgbouncer in transaction mode between the program and its database.
func StartPooled(ctx context.Context, program string, settings ...string) (*Service, error) {
	s := &Service{Instance: &Instance{program: program}}
	err := s.prepare(ctx, func() error { return s.StartDatabase(ctx) })
	if err == nil {
		err = s.StartPooler(ctx)
	}
	if err == nil {
		err = s.serve(func(role string) string { return s.pooled(role) + throughPooler }, settings)
	}
	return s.orStopped(err)
}

// pooled is the database's address at the pooler.
func (s *Service) pooled(role string) string {
	return fmt.Sprintf("postgres://%s@/%s?%s", role, database,
		url.Values{"host": {filepath.Join(s.folder, "pooler")}, "port": {"6432"}}.Encode())
}

// StartPooler starts the pooler, also after KillPooler, at the same address.
func (s *Service) StartPooler(ctx context.Context) error {
	at, err := url.Parse(s.dsn(owner, database))
	if err != nil {
		return fmt.Errorf("reading the database's address: %w", err)
	}
	folder := filepath.Join(s.folder, "pooler")
	_ = os.RemoveAll(folder) // what a killed one left
	if err := os.Mkdir(folder, 0o700); err != nil {
		return err
	}
	if err := os.Chmod(folder, 0o777); err != nil { // the pooler does not run as root
		return err
	}
	host, port := at.Query().Get("host"), at.Query().Get("port")
	users := filepath.Join(folder, "users")
	settings := filepath.Join(folder, "settings.ini")
	for name, text := range map[string]string{
		users: fmt.Sprintf("%q \"\"\n%q \"\"\n", postgres.AppRole, postgres.WorkerRole),
		settings: fmt.Sprintf("[databases]\n%s = host=%s port=%s dbname=%s\n[pgbouncer]\npool_mode = transaction\n"+
			"listen_addr =\nlisten_port = 6432\nunix_socket_dir = %s\nauth_type = trust\nauth_file = %s\n"+
			"max_client_conn = 500\ndefault_pool_size = 40\nserver_login_retry = 1\n", database, host, port, database, folder, users),
	} {
		if err := os.WriteFile(name, []byte(text), 0o644); err != nil { //nolint:gosec // the pooler reads them
			return err
		}
	}
	args := []string{"--quiet", settings}
	if os.Geteuid() == 0 {
		args = append([]string{"--user", "postgres"}, args...)
	}
	program, err := exec.LookPath("pgbouncer")
	if err != nil {
		program = "/usr/sbin/pgbouncer" // which is not in everyone's PATH
	}
	s.pooler = exec.Command(program, args...)
	if err := s.pooler.Start(); err != nil {
		return fmt.Errorf("starting pgbouncer, of the package of that name: %w", err)
	}
	return s.awaitPooler(ctx)
}

func (s *Service) awaitPooler(ctx context.Context) error {
	for range 100 {
		conn, err := pgx.Connect(ctx, s.pooled(postgres.AppRole)+throughPooler)
		if err == nil {
			return conn.Close(ctx)
		}
		time.Sleep(50 * time.Millisecond)
	}
	return fmt.Errorf("pgbouncer does not answer at %s", s.pooled(postgres.AppRole))
}

// KillPooler ends the pooler at once, with the connections that lead through it.
func (s *Service) KillPooler() {
	if s.pooler != nil {
		_ = s.pooler.Process.Kill()
		_ = s.pooler.Wait() // it was killed
		s.pooler = nil
	}
}
