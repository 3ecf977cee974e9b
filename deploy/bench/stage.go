package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5/pgxpool"

	"meniscus/deploy/bench/caller"
	"meniscus/deploy/bench/seed"
	"meniscus/deploy/running"
	"meniscus/internal/localpg"
	"meniscus/internal/postgres"
)

// stage is a service with a seeded museum, on a database that flushes every commit.
type stage struct {
	*running.Service
	program string
	folder  string // for what is built and for scripts
	museum  seed.Museum
	super   *pgxpool.Pool
	rare    rare
	key     string
	size    int           // treatments, about
	seeded  time.Duration // how long the copies took
}

// server are the settings of the database's server: as it comes, with memory enough for the larger museum.
var server = map[string]string{"fsync": "on", "full_page_writes": "on", "shared_buffers": "1GB", "max_wal_size": "8GB",
	"checkpoint_timeout": "30min"}

func newStage(ctx context.Context, o options) (st *stage, err error) {
	st = &stage{size: o.treatments}
	defer func() {
		if err != nil {
			err = errors.Join(err, st.Stop())
		}
	}()
	if st.folder, err = os.MkdirTemp("", "meniscus-bench-"); err != nil {
		return st, err
	}
	if err := os.Chmod(st.folder, 0o755); err != nil { // pgbench runs as another user
		return st, err
	}
	st.program = filepath.Join(st.folder, "meniscus")
	if out, err := exec.CommandContext(ctx, "go", "build", "-o", st.program, "./cmd/meniscus").CombinedOutput(); err != nil {
		return st, fmt.Errorf("building the service: %w\n%s", err, out)
	}
	if st.Service, err = running.StartOn(ctx, st.program, server, "MENISCUS_DEBUG_ADDRESS=127.0.0.1:0",
		"MENISCUS_RATE_LIMIT=off", "GOMEMLIMIT=900MiB"); err != nil {
		return st, err
	}
	return st, st.fill(ctx, o)
}

// fill records the year, copies it, and records what is rare.
func (st *stage) fill(ctx context.Context, o options) (err error) {
	key, err := st.Found(ctx, postgres.Founding{Institution: uuid.MustParse("00e00000-0000-7000-8000-00000000d3f0"),
		Name: "Museum of the Lower Valley", Person: "Ilse Varga"})
	if err != nil {
		return err
	}
	if st.super, err = pgxpool.New(ctx, st.DSN(localpg.Superuser)); err != nil {
		return err
	}
	st.key = key.Text()
	st.museum = seed.Museum{Institution: key.Institution, Client: caller.New("http://"+st.Address, key.Text()),
		Super: st.DSN(localpg.Superuser)}
	began := time.Now()
	if err := st.museum.RecordYear(ctx); err != nil {
		return err
	}
	logf("a year of %d treatments is recorded (%v)", seed.Treatments, time.Since(began).Round(time.Millisecond))
	began = time.Now()
	if err := st.Pause(); err != nil {
		return err
	}
	if err := st.museum.Copy(ctx, o.treatments); err != nil {
		return err
	}
	st.seeded = time.Since(began)
	logf("%d treatments are there (%v)", o.treatments, st.seeded.Round(time.Millisecond))
	if err := st.restart(key.Text()); err != nil {
		return err
	}
	if st.rare, err = recordRare(ctx, st.museum.Client); err != nil {
		return err
	}
	if err := st.museum.Settled(ctx); err != nil {
		return err
	}
	_, err = st.super.Exec(ctx, `vacuum analyze`)
	if err == nil && o.verify {
		began = time.Now()
		err = st.Verify(ctx)
		logf("verify found nothing wrong (%v)", time.Since(began).Round(time.Millisecond))
	}
	return err
}

// restart starts the service anew, which gets another address.
func (st *stage) restart(key string) error {
	err := st.Restart()
	st.museum.Client = caller.New("http://"+st.Address, key)
	return err
}

// Stop ends everything and removes it.
func (st *stage) Stop() (err error) {
	if st.super != nil {
		st.super.Close()
	}
	if st.Service != nil {
		err = st.Service.Stop()
	}
	return errors.Join(err, os.RemoveAll(st.folder))
}
