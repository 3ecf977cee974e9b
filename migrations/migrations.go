// Package migrations holds the schema's history, applies it, and tells whether a
// database has all of it. Migrations go forward only, over the owner's direct
// connection, under a lock, so that only one process applies them at a time.
package migrations

import (
	"context"
	"database/sql"
	"embed"
	"errors"
	"fmt"

	_ "github.com/jackc/pgx/v5/stdlib" // the driver that goose applies migrations with
	"github.com/pressly/goose/v3"
	"github.com/pressly/goose/v3/lock"
)

//go:embed *.sql
var files embed.FS

// Roles is the SQL that gives the application's and the worker's roles their
// rights; it is run by the owner after Apply.
//
//go:embed roles.sql
var Roles string

// ErrOld says that the database lacks migrations; run `meniscus migrate`.
var ErrOld = errors.New("the database's schema is older than this program: run `meniscus migrate`")

// ErrNew says that the database has migrations that this program does not know;
// run the newer program.
var ErrNew = errors.New("the database's schema is newer than this program: run the newer release")

// Apply brings the database at dsn up to date.
func Apply(ctx context.Context, dsn string) error {
	db, err := sql.Open("pgx", dsn)
	if err != nil {
		return fmt.Errorf("opening the database: %w", err)
	}
	defer db.Close()
	p, err := provider(db)
	if err != nil {
		return err
	}
	if _, err := p.Up(ctx); err != nil {
		return fmt.Errorf("migrating: %w", err)
	}
	return nil
}

func provider(db *sql.DB) (*goose.Provider, error) {
	locker, err := lock.NewPostgresSessionLocker()
	if err != nil {
		return nil, fmt.Errorf("making the migration lock: %w", err)
	}
	return read(db, goose.WithSessionLocker(locker))
}

// read gives all migrations: those in SQL, and the one in Go.
func read(db *sql.DB, options ...goose.ProviderOption) (*goose.Provider, error) {
	p, err := goose.NewProvider(goose.DialectPostgres, db, files, append(options,
		goose.WithExcludeNames([]string{"roles.sql"}), goose.WithGoMigrations(numberRuns))...)
	if err != nil {
		return nil, fmt.Errorf("reading the migrations: %w", err)
	}
	return p, nil
}

// Latest is the version of the newest migration in this program.
func Latest() (int64, error) {
	p, err := read(new(sql.DB))
	if err != nil {
		return 0, err
	}
	sources := p.ListSources()
	return sources[len(sources)-1].Version, nil
}

// Check compares a database's version with this program's: nil, ErrOld or
// ErrNew.
func Check(version int64) error {
	latest, err := Latest()
	switch {
	case err != nil:
		return err
	case version < latest:
		return ErrOld
	case version > latest:
		return ErrNew
	}
	return nil
}
