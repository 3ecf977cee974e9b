package main

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"time"

	"github.com/google/uuid"

	"meniscus/internal/access"
	"meniscus/internal/localpg"
	"meniscus/internal/postgres"
	"meniscus/migrations"
)

const owner, database = "meniscus_owner", "meniscus"

// stage is a service with two museums.
type stage struct {
	pg             *localpg.Server
	folder         string
	serving        *exec.Cmd
	steady, greedy client
}

// start makes the database and the museums, and starts the service.
func start(ctx context.Context, program string) (st *stage, err error) {
	st = &stage{}
	defer func() {
		if err != nil {
			st.stop()
		}
	}()
	if st.folder, err = os.MkdirTemp("", "meniscus-bench-"); err != nil {
		return nil, err
	}
	if program == "" {
		program = filepath.Join(st.folder, "meniscus")
		build := exec.CommandContext(ctx, "go", "build", "-o", program, "./cmd/meniscus")
		build.Stderr = os.Stderr
		if err := build.Run(); err != nil {
			return nil, fmt.Errorf("building the service: %w", err)
		}
	}
	if err := st.prepare(ctx); err != nil {
		return nil, err
	}
	base, err := st.serve(program)
	if err != nil {
		return nil, err
	}
	return st, st.found(ctx, base)
}

func (st *stage) prepare(ctx context.Context) (err error) {
	if st.pg, err = localpg.Start(ctx, localpg.Config{Ephemeral: true}); err != nil {
		return err
	}
	if err := postgres.MakeDatabase(ctx, st.pg.DSN(localpg.Superuser, "postgres"), database, owner); err != nil {
		return err
	}
	if err := migrations.Apply(ctx, st.pg.DSN(owner, database)); err != nil {
		return err
	}
	return postgres.MakeRoles(ctx, st.pg.DSN(owner, database), "", "")
}

// serve starts the service on a free port.
func (st *stage) serve(program string) (base string, err error) {
	free, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return "", err
	}
	address := free.Addr().String()
	_ = free.Close() // the service listens there itself
	log, err := os.Create(filepath.Join(st.folder, "log"))
	if err != nil {
		return "", err
	}
	defer log.Close()
	st.serving = exec.Command(program, "serve")
	st.serving.Stderr = log
	st.serving.Env = append(os.Environ(), "MENISCUS_ADDRESS="+address, "MENISCUS_DATABASE_URL="+st.pg.DSN(postgres.AppRole, database),
		"MENISCUS_WORKER_DATABASE_URL="+st.pg.DSN(postgres.WorkerRole, database))
	if err := st.serving.Start(); err != nil {
		return "", fmt.Errorf("starting the service: %w", err)
	}
	return "http://" + address, ready("http://" + address)
}

func ready(base string) error {
	for range 300 {
		if response, err := http.Get(base + "/readyz"); err == nil {
			_ = response.Body.Close()
			if response.StatusCode == http.StatusOK {
				return nil
			}
		}
		time.Sleep(100 * time.Millisecond)
	}
	return errors.New("the service does not become ready")
}

// found makes the two museums.
func (st *stage) found(ctx context.Context, base string) error {
	store, err := postgres.Open(ctx, st.pg.DSN(postgres.AppRole, database))
	if err != nil {
		return err
	}
	defer store.Close()
	for name, into := range map[string]*client{"Museum of the Lower Valley": &st.steady, "Museum on the Hill": &st.greedy} {
		key, err := postgres.Found(ctx, st.pg.DSN(owner, database), store, postgres.Founding{
			Institution: uuid.Must(uuid.NewV7()), Name: name, TimeZone: "Europe/Vienna", Person: "Ilse Varga", Scopes: access.Scopes()})
		if err != nil {
			return err
		}
		*into = newClient(base, key.Text())
	}
	return nil
}

// stop ends the service and the database, and removes them.
func (st *stage) stop() {
	if st.serving != nil && st.serving.Process != nil {
		_ = st.serving.Process.Signal(os.Interrupt)
		_ = st.serving.Wait()
	}
	if st.pg != nil {
		ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
		defer cancel()
		_ = st.pg.Stop(ctx) // it is ephemeral
	}
	_ = os.RemoveAll(st.folder)
}
