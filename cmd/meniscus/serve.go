package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"math"
	"net/url"
	"os"
	"runtime"
	"runtime/debug"

	"github.com/KimMachineGun/automemlimit/memlimit"

	"meniscus/internal/postgres"
)

// serve runs the service on MENISCUS_DATABASE_URL until it is told to stop.
func serve(ctx context.Context, args []string, _, errs io.Writer) error {
	cfg, err := configFor("serve", args, func(c Config) error {
		if c.DatabaseURL == "" {
			return errors.New("MENISCUS_DATABASE_URL: needed: the application's role on the service's database")
		}
		return nil
	})
	if err != nil {
		return err
	}
	if cfg.WorkerDatabaseURL == "" {
		if cfg.WorkerDatabaseURL, err = asRole(cfg.DatabaseURL, postgres.WorkerRole); err != nil {
			return err
		}
	}
	log := slog.New(slog.NewJSONHandler(errs, &slog.HandlerOptions{Level: cfg.LogLevel}))
	cfg.Memory = memoryLimit()
	s, err := newService(ctx, cfg, log)
	if err != nil {
		return err
	}
	log.Info("serving", slog.String("version", versionText()), slog.String("address", s.listener.Addr().String()),
		slog.String("publicURL", cfg.PublicURL),
		slog.Int64("memoryLimit", cfg.Memory), slog.Int("processors", runtime.GOMAXPROCS(0)))
	go debug.FreeOSMemory() // what the start needed, reading the contract above all, is not needed again
	return s.run(ctx)
}

// memoryLimit sets and gives Go's memory limit: GOMEMLIMIT, or else nine tenths of the
// container's memory; 0 is no limit.
func memoryLimit() int64 {
	_, _ = memlimit.SetGoMemLimitWithOpts() // it fails without a container, and then no limit is set
	limit := debug.SetMemoryLimit(-1)
	if limit == math.MaxInt64 {
		return 0
	}
	if os.Getenv("GOGC") == "" { // near the limit more is collected
		debug.SetGCPercent(200)
	}
	return limit
}

// configFor reads the environment for a verb that takes no arguments.
func configFor(verb string, args []string, needs func(Config) error) (Config, error) {
	if len(args) > 0 {
		return Config{}, fmt.Errorf("%w: meniscus %s takes no arguments", errUsage, verb)
	}
	cfg, err := readConfig(os.LookupEnv)
	if err = errors.Join(err, needs(cfg)); err != nil {
		return Config{}, fmt.Errorf("the configuration has faults:\n%w", err)
	}
	return cfg, nil
}

// asRole is a database URL for another role.
func asRole(dsn, role string) (string, error) {
	u, err := url.Parse(dsn)
	if err != nil || u.Scheme == "" {
		return "", errors.New("MENISCUS_DATABASE_URL: write an URL, such as postgres://meniscus_app@db/meniscus")
	}
	if u.User != nil {
		if password, ok := u.User.Password(); ok {
			u.User = url.UserPassword(role, password)
			return u.String(), nil
		}
	}
	u.User = url.User(role)
	return u.String(), nil
}

func needsOwner(c Config) error {
	if c.OwnerDatabaseURL == "" {
		return errors.New("MENISCUS_OWNER_DATABASE_URL: needed: the owner's direct connection")
	}
	return nil
}
