package postgres

import (
	"context"
	"fmt"
	"net/url"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"meniscus/internal/edtf"
	"meniscus/internal/fault"
	"meniscus/internal/record"
	"meniscus/migrations"
)

// The cluster-wide roles that the service acts as. Neither owns a table and
// neither has BYPASSRLS.
const (
	AppRole    = "meniscus_app"
	WorkerRole = "meniscus_worker"
)

// MakeRoles makes the application's and the worker's roles if they are missing,
// sets their passwords from the URLs that they will use (an URL without one
// leaves the password alone), and gives them their rights on this database. It
// runs as the owner and is safe to run again.
func MakeRoles(ctx context.Context, ownerDSN, appDSN, workerDSN string) error {
	conn, err := pgx.Connect(ctx, ownerDSN)
	if err != nil {
		return fmt.Errorf("connecting as the owner: %w", err)
	}
	defer conn.Close(ctx)
	for role, dsn := range map[string]string{AppRole: appDSN, WorkerRole: workerDSN} {
		if err := makeRole(ctx, conn, role, passwordIn(dsn)); err != nil {
			return err
		}
	}
	if _, err := conn.Exec(ctx, migrations.Roles); err != nil {
		return fmt.Errorf("giving the roles their rights: %w", err)
	}
	return nil
}

// SetUp prepares a private server, as a superuser and then as the owner: the owner and
// the database that the second URL names, the schema and the roles. Doing it again
// changes nothing.
func SetUp(ctx context.Context, superDSN, ownerDSN string) error {
	owner, err := pgx.ParseConfig(ownerDSN)
	if err != nil {
		return fmt.Errorf("reading the owner's URL: %w", err)
	}
	if err := makeDatabase(ctx, superDSN, owner.Database, owner.User); err != nil {
		return err
	}
	if err := migrations.Apply(ctx, ownerDSN); err != nil {
		return err
	}
	return MakeRoles(ctx, ownerDSN, "", "")
}

// makeDatabase makes a database and the role that owns its tables. An operator
// does this once by hand.
func makeDatabase(ctx context.Context, superDSN, database, owner string) error {
	conn, err := pgx.Connect(ctx, superDSN)
	if err != nil {
		return fmt.Errorf("connecting as the superuser: %w", err)
	}
	defer conn.Close(ctx)
	var haveOwner, haveDatabase bool
	err = conn.QueryRow(ctx, `select exists (select from pg_roles where rolname = $1),
		exists (select from pg_database where datname = $2)`, owner, database).Scan(&haveOwner, &haveDatabase)
	if err != nil {
		return fmt.Errorf("looking for the database: %w", err)
	}
	owner, database = pgx.Identifier{owner}.Sanitize(), pgx.Identifier{database}.Sanitize()
	if !haveOwner {
		if _, err := conn.Exec(ctx, `create role `+owner+` login createrole`); err != nil {
			return fmt.Errorf("making the owner: %w", err)
		}
	}
	if !haveDatabase {
		if _, err := conn.Exec(ctx, `create database `+database+` owner `+owner); err != nil {
			return fmt.Errorf("making the database: %w", err)
		}
	}
	return nil
}

func makeRole(ctx context.Context, conn *pgx.Conn, role, password string) error {
	create := fmt.Sprintf(`do $$ begin
		if not exists (select from pg_roles where rolname = '%[1]s') then
			create role %[1]s login noinherit nocreatedb nocreaterole nobypassrls;
		end if;
	exception when duplicate_object or unique_violation then null; end $$`, role)
	if _, err := conn.Exec(ctx, create); err != nil {
		return fmt.Errorf("making the role %s: %w", role, err)
	}
	if password == "" {
		return nil
	}
	// ALTER ROLE takes no parameters; the server quotes the password itself.
	var alter string
	if err := conn.QueryRow(ctx, `select format('alter role %I password %L', $1::text, $2::text)`, role,
		password).Scan(&alter); err != nil {
		return fmt.Errorf("quoting the password of %s: %w", role, err)
	}
	if _, err := conn.Exec(ctx, alter); err != nil {
		return fmt.Errorf("setting the password of %s", role)
	}
	return nil
}

func passwordIn(dsn string) string {
	u, err := url.Parse(dsn)
	if err != nil || u.User == nil {
		return ""
	}
	password, _ := u.User.Password()
	return password
}

// StateSeasons says of which half of the earth the seasons of an institution's dates are, or
// with "" that it states none, as the owner. Statements that were recorded stay as they are.
func StateSeasons(ctx context.Context, ownerDSN string, institution uuid.UUID, half edtf.Hemisphere) error {
	conn, err := pgx.Connect(ctx, ownerDSN)
	if err != nil {
		return fmt.Errorf("connecting as the owner: %w", err)
	}
	defer conn.Close(ctx)
	done, err := conn.Exec(ctx, `update institution set seasons = $2 where id = $1`, institution, orNull(string(half)))
	if err == nil && done.RowsAffected() == 0 {
		err = errNoRecord
	}
	if err != nil {
		return fmt.Errorf("stating an institution's seasons: %w", err)
	}
	return nil
}

// addInstitution makes an institution, as the owner: the application's role may
// not. Making it again changes nothing.
func addInstitution(ctx context.Context, ownerDSN string, id uuid.UUID, name, ror, timeZone string) error {
	if record.IsBlank(name) {
		return fault.New("text-blank", "", "Nothing of the name can be seen; write a name.")
	}
	conn, err := pgx.Connect(ctx, ownerDSN)
	if err != nil {
		return fmt.Errorf("connecting as the owner: %w", err)
	}
	defer conn.Close(ctx)
	_, err = conn.Exec(ctx, `insert into institution (id, name, ror, time_zone) values ($1, $2, $3, $4)
		on conflict do nothing`,
		id, name, orNull(ror), timeZone)
	if err != nil {
		return fmt.Errorf("adding the institution: %w", err)
	}
	return nil
}
