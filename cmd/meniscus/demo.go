package main

import (
	"context"
	"crypto/rand"
	"encoding/base64"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"time"

	"github.com/google/uuid"

	"meniscus/internal/access"
	"meniscus/internal/ledger"
	"meniscus/internal/localpg"
	"meniscus/internal/postgres"
	"meniscus/internal/webhook"
)

// The demo's institution has a fixed id, so that a restart finds it again.
var demoInstitution = uuid.MustParse("01900000-0000-7000-8000-00000000d3f0")

const (
	demoOwner    = "meniscus_owner"
	demoDatabase = "meniscus"
)

// demo runs the whole service on a private Postgres with an invented museum.
func demo(ctx context.Context, args []string, out, errs io.Writer) error {
	flags := newFlags("demo", errs)
	fresh := flags.Bool("fresh", false, "forget the demo's data and start over")
	once := flags.Bool("once", false, "do the whole job through the HTTP API on a temporary database, print it, and end")
	dir := flags.String("dir", demoDir(), "where the demo's data is kept")
	cfg, err := configWith(flags, args, func(Config) error { return nil })
	if err != nil {
		return err
	}
	if *once {
		*dir = ""
	}
	if *fresh {
		if err := forget(ctx, *dir); err != nil {
			return err
		}
	}
	d := demonstration{cfg: cfg, dir: *dir, out: out, errs: errs, started: time.Now()}
	return d.run(endWithGoRun(ctx), *once)
}

// demoDir is a folder of this user; root's is outside root's home, because Postgres
// runs as another user.
func demoDir() string {
	if os.Geteuid() == 0 {
		return "/var/lib/meniscus-demo"
	}
	home, err := os.UserHomeDir()
	if err != nil {
		return filepath.Join(os.TempDir(), fmt.Sprintf("meniscus-demo-%d", os.Geteuid()))
	}
	return filepath.Join(home, ".local", "share", "meniscus-demo")
}

// forget removes the demo's data, if this folder is a demo's.
func forget(ctx context.Context, dir string) error {
	if _, err := os.Stat(filepath.Join(dir, keyFile)); errors.Is(err, os.ErrNotExist) {
		if _, err := os.Stat(dir); errors.Is(err, os.ErrNotExist) {
			return nil
		}
		return fmt.Errorf("%s does not look like a demo's folder; remove it yourself if it is", dir)
	}
	if err := localpg.Remove(ctx, dir); err != nil {
		return fmt.Errorf("forgetting the demo's data: %w", err)
	}
	return nil
}

// endWithGoRun gives a context that also ends when the `go run` that started this
// process ends, if one did: `go run` does not stop the program that it runs.
func endWithGoRun(ctx context.Context) context.Context {
	parent := os.Getppid()
	name, err := os.ReadFile(fmt.Sprintf("/proc/%d/comm", parent))
	if err != nil || strings.TrimSpace(string(name)) != "go" {
		return ctx
	}
	ctx, cancel := context.WithCancel(ctx)
	go func() {
		defer cancel()
		tick := time.NewTicker(200 * time.Millisecond)
		defer tick.Stop()
		for ctx.Err() == nil && syscall.Getppid() == parent {
			select {
			case <-ctx.Done():
			case <-tick.C:
			}
		}
	}()
	return ctx
}

// demonstration is one run of the demo.
type demonstration struct {
	cfg     Config
	dir     string // empty for a temporary one
	out     io.Writer
	errs    io.Writer
	started time.Time
}

func (d *demonstration) say(format string, args ...any) {
	fmt.Fprintf(d.errs, "[%4.1f s] %s\n", time.Since(d.started).Seconds(), fmt.Sprintf(format, args...))
}

func (d *demonstration) run(ctx context.Context, once bool) error {
	pg, err := localpg.Start(ctx, localpg.Config{Dir: d.dir, Ephemeral: d.dir == "",
		Progress: func(s string) { d.say("%s", s) }})
	if err != nil {
		return err
	}
	// The service has drained before the database is stopped.
	defer func() {
		limited, cancel := context.WithTimeout(context.WithoutCancel(ctx), shutdownLimit)
		defer cancel()
		if err := pg.Stop(limited); err != nil {
			d.say("%v", err)
		}
	}()
	if err := d.prepare(ctx, pg); err != nil {
		return err
	}
	s, err := d.service(ctx)
	if err != nil {
		return err
	}
	key, err := d.key(ctx, s.store, pg)
	if err != nil {
		s.close()
		return err
	}
	serving, stop := context.WithCancel(ctx)
	ended := make(chan error, 1)
	go func() { ended <- s.run(serving) }()
	c := client{base: s.cfg.PublicURL, key: key}
	err = d.show(ctx, c, once)
	if err == nil && !once {
		select {
		case <-ctx.Done():
		case <-pg.Done():
			err = errors.New("the private Postgres has ended")
		}
	}
	stop()
	return errors.Join(err, <-ended)
}

// prepare makes the database, its schema and the roles; it can run again.
func (d *demonstration) prepare(ctx context.Context, pg *localpg.Server) error {
	d.say("Bringing the schema up to date")
	d.cfg.DatabaseURL = pg.DSN(postgres.AppRole, demoDatabase)
	d.cfg.WorkerDatabaseURL = pg.DSN(postgres.WorkerRole, demoDatabase)
	return postgres.SetUp(ctx, pg.DSN(localpg.Superuser, "postgres"), pg.DSN(demoOwner, demoDatabase))
}

// service listens at the configured address, or on any free port when that one is
// taken.
func (d *demonstration) service(ctx context.Context) (*service, error) {
	log := slog.New(slog.NewTextHandler(d.errs, &slog.HandlerOptions{Level: slog.LevelWarn}))
	listener, err := net.Listen("tcp", d.cfg.Address)
	if err != nil {
		if listener, err = net.Listen("tcp", "127.0.0.1:0"); err != nil {
			return nil, fmt.Errorf("listening: %w", err)
		}
	}
	d.cfg.Address = listener.Addr().String()
	d.cfg.PublicURL = "http://" + d.cfg.Address
	d.cfg.Worker = true
	if err := d.setUpWebhooks(); err != nil {
		return nil, err
	}
	if err := d.setUpLog(); err != nil {
		return nil, err
	}
	d.cfg.Published = []uuid.UUID{demoInstitution}
	_ = listener.Close() // newService listens there again
	return newService(ctx, d.cfg, log)
}

// setUpWebhooks lets the demo deliver to this machine, with secrets that survive
// a restart.
func (d *demonstration) setUpWebhooks() error {
	key, err := d.secret("demo-secret-key")
	if err != nil {
		return err
	}
	if d.cfg.Keeper, err = webhook.NewKeeper(key); err != nil {
		return err
	}
	d.cfg.Targets, err = webhook.ParseTargets("127.0.0.0/8, ::1/128")
	return err
}

// setUpLog lets the demo sign its log, with a key that survives a restart.
func (d *demonstration) setUpLog() error {
	key, err := d.secret("demo-log-key")
	if err == nil {
		d.cfg.LogKeys, err = ledger.ParseSigners(key)
	}
	return err
}

// secret is 32 random bytes in base64, kept in a file beside the demo's data.
func (d *demonstration) secret(name string) (string, error) {
	raw := make([]byte, webhook.KeeperKeySize)
	_, _ = rand.Read(raw) // never fails
	key := base64.StdEncoding.EncodeToString(raw)
	if d.dir == "" {
		return key, nil
	}
	file := filepath.Join(d.dir, name)
	if kept, err := os.ReadFile(file); err == nil {
		return string(kept), nil
	}
	if err := os.WriteFile(file, []byte(key), 0o600); err != nil {
		return "", fmt.Errorf("keeping a secret of the demo: %w", err)
	}
	return key, nil
}

// keyFile holds the demo's key beside its data, so that it survives a restart.
const keyFile = "demo-key"

// key gives the key of the last run, or makes the museum with a new key.
func (d *demonstration) key(ctx context.Context, store *postgres.Store, pg *localpg.Server) (string, error) {
	file := filepath.Join(d.dir, keyFile)
	if d.dir != "" {
		if kept, err := os.ReadFile(file); err == nil {
			return strings.TrimSpace(string(kept)), nil
		}
	}
	made, err := postgres.Found(ctx, pg.DSN(demoOwner, demoDatabase), store, postgres.Founding{
		Institution: demoInstitution, Name: "Museum of the Lower Valley", TimeZone: "Europe/Vienna",
		Person: "Catalogue of the Lower Valley", Scopes: access.Scopes(),
	})
	if err != nil {
		return "", err
	}
	if d.dir != "" {
		if err := os.WriteFile(file, []byte(made.Text()+"\n"), 0o600); err != nil {
			return "", fmt.Errorf("keeping the demo's key: %w", err)
		}
	}
	return made.Text(), nil
}

// show loads the museum, and then either does the main job or prints how to.
func (d *demonstration) show(ctx context.Context, c client, once bool) error {
	d.say("Loading the museum through the service")
	n, err := c.load(ctx)
	if err != nil {
		return err
	}
	d.say("Ready: %d records of an invented museum", n)
	if once {
		return doTheJob(ctx, c, d.out)
	}
	fmt.Fprintf(d.out, welcome, c.base, c.key, c.base, c.base)
	return nil
}
