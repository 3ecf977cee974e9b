package main

import (
	"context"
	"errors"
	"fmt"
	"io"

	"meniscus/internal/httpapi"
	"meniscus/internal/layers"
	"meniscus/internal/postgres"
)

// errNotAsRecorded says that something is not what the record makes of it.
var errNotAsRecorded = errors.New("not everything is as it was recorded")

// verify compares everything that is kept with the facts that it was made from.
// It changes nothing.
func verify(ctx context.Context, args []string, out, _ io.Writer) error {
	cfg, err := configFor("verify", args, func(c Config) error {
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
	return withStore(ctx, cfg, func(s *postgres.Store) error { return verifyAll(ctx, cfg, s, out) })
}

func verifyAll(ctx context.Context, cfg Config, s *postgres.Store, out io.Writer) error {
	watch, err := postgres.OpenWatch(ctx, cfg.WorkerDatabaseURL)
	if err != nil {
		return err
	}
	defer watch.Close()
	api, err := httpapi.New(httpapi.Config{Store: s})
	if err != nil {
		return err
	}
	institutions, err := watch.Institutions(ctx)
	if err != nil {
		return err
	}
	v := layers.Verifier{Store: s, Knowledge: api.KnowledgeOf, Projection: httpapi.Projection, Report: func(sentence string) { fmt.Fprintln(out, sentence) }}
	wrong := 0
	for _, id := range institutions {
		found, err := v.Institution(ctx, id)
		if err != nil {
			return fmt.Errorf("institution %s: %w", id, err)
		}
		wrong += found.Wrong
		fmt.Fprintf(out, "Institution %s: %d entries (%d of them redacted), %d records, the layers of %d specimens: %d wrong.\n",
			id, found.Facts, found.Redacted, found.Records, found.Specimens, found.Wrong)
		if found.Behind {
			fmt.Fprintln(out, "Its layers were not compared: the service has not looked at everything yet. Try again in a moment.")
		}
	}
	if wrong > 0 {
		return errNotAsRecorded
	}
	return nil
}
