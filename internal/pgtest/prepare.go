package pgtest

import (
	"context"
	"fmt"

	"github.com/jackc/pgx/v5/pgxpool"

	"meniscus/internal/postgres"
	"meniscus/migrations"
)

// The database roles. Tests give all of them one password, because a container is
// reached over TCP.
const (
	OwnerRole  = "meniscus_owner"
	AppRole    = postgres.AppRole
	WorkerRole = postgres.WorkerRole
	password   = "test"
)

// prepare makes the roles and the migrated template that tests are cloned from.
func prepare(ctx context.Context, admin *pgxpool.Pool, srv *server, template string) error {
	if err := makeRoles(ctx, admin); err != nil {
		return err
	}
	create := fmt.Sprintf("create database %s owner %s", ident(template), ident(OwnerRole))
	if _, err := admin.Exec(ctx, create); err != nil {
		return fmt.Errorf("creating the template: %w", err)
	}
	owner := srv.dsn(OwnerRole, template)
	if err := migrations.Apply(ctx, owner); err != nil {
		return err
	}
	return postgres.MakeRoles(ctx, owner, "", "")
}

// makeRoles makes the roles, or finds that another test process has made them.
// Roles belong to the whole server, so processes take turns.
func makeRoles(ctx context.Context, admin *pgxpool.Pool) error {
	const sql = `
do $$
declare role text;
begin
  perform pg_advisory_xact_lock(hashtext('meniscus test roles'));
  foreach role in array array['` + OwnerRole + `', '` + AppRole + `', '` + WorkerRole + `'] loop
    if not exists (select from pg_roles where rolname = role) then
      execute format('create role %I login', role);
    end if;
    execute format('alter role %I password ''` + password + `''', role);
  end loop;
end $$`
	if _, err := admin.Exec(ctx, sql); err != nil {
		return fmt.Errorf("making the roles: %w", err)
	}
	return nil
}
