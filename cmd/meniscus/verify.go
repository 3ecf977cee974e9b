package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"

	"meniscus/internal/layers"
	"meniscus/internal/postgres"
	"meniscus/internal/recording"
)

// errNotAsRecorded says that something stored differs from what the entries give.
var errNotAsRecorded = errors.New("not everything is as it was recorded")

// errNotCompared says that no difference was found, but not everything could be
// compared. It has an exit code of its own.
var errNotCompared = errors.New("what was compared is as it was recorded, and not everything was compared")

// verify compares everything that is stored with the facts that it was made from, and the
// facts with checkpoints that someone kept; or an export with these, and nothing else. It
// changes nothing.
func verify(ctx context.Context, args []string, out, errs io.Writer) error {
	flags := newFlags("verify", errs)
	against := againstLog(flags)
	cfg, err := configWith(flags, args, func(c Config) error {
		if against.export != "" {
			return nil
		}
		if c.DatabaseURL == "" {
			return errors.New("MENISCUS_DATABASE_URL: needed: the application's role on the service's database")
		}
		return nil
	})
	if err != nil {
		return err
	}
	if err := against.read(out); err != nil {
		return err
	}
	if against.export != "" {
		return against.proveExport(out)
	}
	if cfg.WorkerDatabaseURL == "" {
		if cfg.WorkerDatabaseURL, err = asRole(cfg.DatabaseURL, postgres.WorkerRole); err != nil {
			return err
		}
	}
	return withStore(ctx, cfg, func(s *postgres.Store) error { return verifyAll(ctx, cfg, s, against, out) })
}

func verifyAll(ctx context.Context, cfg Config, s *postgres.Store, against *logFlags, out io.Writer) error {
	watch, err := postgres.OpenWatch(ctx, cfg.WorkerDatabaseURL)
	if err != nil {
		return err
	}
	defer watch.Close()
	institutions, err := watch.Institutions(ctx)
	if err != nil {
		return err
	}
	checkpoints, err := against.byInstitution(institutions)
	if err != nil {
		return err
	}
	library := recording.NewLibrary(s, slog.New(slog.DiscardHandler))
	v := layers.Verifier{Store: s, Knowledge: library.Of, Checkpoints: checkpoints,
		Report: func(sentence string) { fmt.Fprintln(out, sentence) }}
	var all layers.Verified
	var failed []error
	for _, id := range institutions {
		found, err := v.Institution(ctx, id)
		if err != nil { // the others are still verified
			failed = append(failed, fmt.Errorf("institution %s: %w", id, err))
			continue
		}
		all = all.Add(found)
		fmt.Fprintf(out,
			"Institution %s: %d entries (%d of them redacted), %d records, the layers of %d specimens: %d wrong.\n",
			id, found.Facts, found.Redacted, found.Records, found.Specimens, found.Wrong)
		if found.Proven > 0 {
			fmt.Fprintf(out, "Its first %d entries are those of the checkpoint.\n", found.Proven)
		}
		if found.Behind {
			fmt.Fprintln(out,
				"Its layers were not compared: the service has not looked at everything yet. Try again in a moment.")
		}
		if n := found.SetAside + found.Unchecked; n > 0 {
			fmt.Fprintf(out, "Of %d records the layers or findings were not compared; they are named above.\n", n)
		}
	}
	switch {
	case len(failed) > 0:
		return errors.Join(failed...)
	case all.Wrong > 0:
		return errNotAsRecorded
	case !all.Complete():
		return errNotCompared
	}
	return nil
}
