package postgres_test

import (
	"net/url"
	"strings"
	"testing"

	"meniscus/internal/fault"
	"meniscus/internal/pgtest"
	"meniscus/internal/postgres"
)

// severalHosts is a database URL that names a server that does not answer before the one
// that does, and wants one that takes writes.
func severalHosts(t *testing.T, dsn string) string {
	t.Helper()
	u, err := url.Parse(dsn)
	if err != nil {
		t.Fatal(err)
	}
	query := u.Query()
	query.Set("target_session_attrs", "read-write")
	if u.Host != "" {
		u.Host = "127.0.0.1:1," + u.Host
	} else {
		query.Set("host", "/no/such/server,"+query.Get("host"))
		if port := query.Get("port"); port != "" {
			query.Set("port", port+","+port)
		}
	}
	u.RawQuery = query.Encode()
	return u.String()
}

// Of several servers in the URL the one that takes writes is used; where none does, the
// database is away.
func TestSeveralServersInTheURL(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t)
	dsn := severalHosts(t, db.App())
	ready := func() error {
		s, err := postgres.Open(t.Context(), dsn)
		if err != nil {
			t.Fatal(err)
		}
		defer s.Close()
		return s.Ready(t.Context())
	}
	if err := ready(); err != nil {
		t.Errorf("a server that takes writes: got %v", err)
	}
	super := pgtest.Pool(t, db.Super())
	if _, err := super.Exec(t.Context(), `alter database `+db.Name()+` set default_transaction_read_only = on`); err != nil {
		t.Fatal(err)
	}
	if err := ready(); !fault.Is(err, fault.Unavailable) {
		t.Errorf("none that takes writes: got %v, want unavailable", err)
	}
	dsn = strings.Replace(dsn, "read-write", "any", 1)
	if err := ready(); err != nil {
		t.Errorf("any server: got %v", err)
	}
}
