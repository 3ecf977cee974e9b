package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"strings"

	"github.com/google/uuid"

	"meniscus/internal/access"
	"meniscus/internal/edtf"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
	"meniscus/migrations"
)

// migrate brings the database's schema up to date, as its owner.
func migrate(ctx context.Context, args []string, out, _ io.Writer) error {
	cfg, err := configFor("migrate", args, needsOwner)
	if err != nil {
		return err
	}
	if err := migrations.Apply(ctx, cfg.OwnerDatabaseURL); err != nil {
		return err
	}
	fmt.Fprintln(out, "The schema is up to date. Run `meniscus roles` next, so that new tables have their rights.")
	return nil
}

// roles makes the two roles and gives them their rights, as the owner.
func roles(ctx context.Context, args []string, out, _ io.Writer) error {
	cfg, err := configFor("roles", args, needsOwner)
	if err != nil {
		return err
	}
	if err := postgres.MakeRoles(ctx, cfg.OwnerDatabaseURL, cfg.DatabaseURL, cfg.WorkerDatabaseURL); err != nil {
		return err
	}
	fmt.Fprintf(out, "The roles %s and %s have their rights on this database.\n", postgres.AppRole, postgres.WorkerRole)
	return nil
}

// found makes an institution with its first person and a key of every scope.
func found(ctx context.Context, args []string, out, errs io.Writer) error {
	var f postgres.Founding
	flags := newFlags("found", errs)
	flags.StringVar(&f.Name, "name", "", "the institution's name")
	flags.StringVar(&f.ROR, "ror", "", "its ROR id, if it has one")
	flags.StringVar(&f.TimeZone, "time-zone", "UTC", "its time zone, such as Europe/Vienna")
	flags.StringVar(&f.Person, "person", "", "the first person's name")
	from := flags.String("from", "",
		"instead of a person: an export that will be restored; nothing is recorded, and the key acts for whoever "+
			"recorded its first entry")
	cfg, err := configWith(flags, args, needsOwner)
	if err != nil {
		return err
	}
	if f.Name == "" || (f.Person == "") == (*from == "") {
		return fmt.Errorf("%w: meniscus found -name NAME (-person NAME | -from EXPORT.ndjson)", errUsage)
	}
	if f.ROR != "" {
		if f.ROR, err = record.ParseROR(f.ROR); err != nil {
			return err
		}
	}
	if *from != "" {
		if f.As, err = whoRecordedFirst(*from); err != nil {
			return err
		}
	}
	f.Institution, f.Scopes = uuid.Must(uuid.NewV7()), access.Scopes()
	return withStore(ctx, cfg, func(s *postgres.Store) error {
		made, err := postgres.Found(ctx, cfg.OwnerDatabaseURL, s, f)
		if err != nil {
			return err
		}
		fmt.Fprintf(out, "Institution %s\nKey (shown once): %s\n", made.Institution, made.Text())
		return nil
	})
}

// key makes an access key in a person's name.
func key(ctx context.Context, args []string, out, errs io.Writer) error {
	if len(args) == 0 || args[0] != "create" {
		return fmt.Errorf("%w: meniscus key create -institution ID -person NAME (-role recorder | -scopes read,record)", errUsage)
	}
	flags := newFlags("key create", errs)
	institution := flags.String("institution", "", "the institution's id")
	person := flags.String("person", "", "in whose name the key records; recorded as a person if new")
	name := flags.String("name", "made at the command line", "what the key is for")
	scopes := flags.String("scopes", "", "scopes, with commas between: "+scopeNames()+"; read, if there is no role either")
	role := flags.String("role", "", fmt.Sprintf("in place of scopes, a role: %v", access.Roles()))
	cfg, err := configWith(flags, args[1:], func(Config) error { return nil })
	if err != nil {
		return err
	}
	chosen, err := scopesOf(*role, *scopes)
	if err != nil {
		return err
	}
	id, err := uuid.Parse(*institution)
	if err != nil || *person == "" {
		return fmt.Errorf("%w: meniscus key create -institution ID -person NAME (-role recorder | -scopes read,record)", errUsage)
	}
	return withStore(ctx, cfg, func(s *postgres.Store) error {
		if _, err := s.For(id).Institution(ctx); err != nil {
			return fmt.Errorf("finding the institution: %w", err)
		}
		who, err := s.For(id).PersonNamed(ctx, *person)
		if err != nil {
			return err
		}
		made, err := s.For(id).NewKey(ctx, who, *name, chosen)
		if err != nil {
			return err
		}
		fmt.Fprintf(out, "Key (shown once): %s\n", made.Text())
		return nil
	})
}

// seasons says of which half of the earth the seasons of an institution's dates are.
func seasons(ctx context.Context, args []string, out, errs io.Writer) error {
	flags := newFlags("seasons", errs)
	institution := flags.String("institution", "", "the institution's id")
	half := flags.String("of", "", "northern, southern, or either")
	cfg, err := configWith(flags, args, needsOwner)
	if err != nil {
		return err
	}
	halves := map[string]edtf.Hemisphere{"northern": edtf.Northern, "southern": edtf.Southern, "either": ""}
	chosen, known := halves[*half]
	id, err := uuid.Parse(*institution)
	if err != nil || !known {
		return fmt.Errorf("%w: meniscus seasons -institution ID -of northern|southern|either", errUsage)
	}
	if err := postgres.StateSeasons(ctx, cfg.OwnerDatabaseURL, id, chosen); err != nil {
		return err
	}
	fmt.Fprintf(out, "A season that is recorded from now on may be of the %s half of the earth.\n", *half)
	return nil
}

func newFlags(name string, errs io.Writer) *flag.FlagSet {
	flags := flag.NewFlagSet("meniscus "+name, flag.ContinueOnError)
	flags.SetOutput(errs)
	return flags
}

// configWith reads a verb's flags and the environment.
func configWith(flags *flag.FlagSet, args []string, needs func(Config) error) (Config, error) {
	if err := flags.Parse(args); err != nil {
		if errors.Is(err, flag.ErrHelp) {
			return Config{}, err
		}
		return Config{}, fmt.Errorf("%w: %w", errUsage, err)
	}
	cfg, err := readConfig(os.LookupEnv)
	if err = errors.Join(err, needs(cfg)); err != nil {
		return Config{}, fmt.Errorf("the configuration has faults:\n%w", err)
	}
	return cfg, nil
}

// withStore opens the database with the application's role for one piece of work.
func withStore(ctx context.Context, cfg Config, work func(*postgres.Store) error) error {
	if cfg.DatabaseURL == "" {
		return errors.New("MENISCUS_DATABASE_URL: needed: the application's role on the service's database")
	}
	s, err := postgres.Open(ctx, cfg.DatabaseURL)
	if err != nil {
		return err
	}
	defer s.Close()
	return work(s)
}

func scopeNames() string {
	names := make([]string, 0, len(access.Scopes()))
	for _, s := range access.Scopes() {
		names = append(names, string(s))
	}
	return strings.Join(names, ",")
}

// scopesOf are the scopes of a role, or those that are named.
func scopesOf(role, scopes string) ([]access.Scope, error) {
	switch {
	case role != "" && scopes != "":
		return nil, fmt.Errorf("%w: say either -role or -scopes", errUsage)
	case role != "":
		chosen := access.Role(role).Scopes()
		if len(chosen) == 0 {
			return nil, fmt.Errorf("%w: there is no role %q; the roles are %v", errUsage, role, access.Roles())
		}
		return chosen, nil
	case scopes == "":
		return []access.Scope{access.Read}, nil
	}
	return parseScopes(scopes)
}

func parseScopes(text string) ([]access.Scope, error) {
	var chosen []access.Scope
	for _, name := range strings.Split(text, ",") {
		known := false
		for _, s := range access.Scopes() {
			if string(s) == strings.TrimSpace(name) {
				chosen, known = append(chosen, s), true
			}
		}
		if !known {
			return nil, fmt.Errorf("%w: there is no scope %q; the scopes are %s", errUsage, name, scopeNames())
		}
	}
	return chosen, nil
}
