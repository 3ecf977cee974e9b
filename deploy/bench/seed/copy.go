package seed

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"maps"
	"regexp"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"golang.org/x/sync/errgroup"

	"meniscus/deploy/bench/caller"
	"meniscus/internal/ledger"
)

// Museum is where a record is seeded.
type Museum struct {
	Institution uuid.UUID
	Client      caller.Client
	Super       string // where the database's superuser finds it
}

// RecordYear records the people and the year that Copy copies, and waits until its layers are worked out.
func (m Museum) RecordYear(ctx context.Context) error {
	if err := recordPeople(ctx, m.Client); err != nil {
		return err
	}
	if err := recordYear(ctx, m.Client); err != nil {
		return err
	}
	return m.Settled(ctx)
}

// Settled waits until the layers of all that is recorded are worked out.
func (m Museum) Settled(ctx context.Context) error {
	conn, err := pgx.Connect(ctx, m.Super)
	if err != nil {
		return err
	}
	defer conn.Close(context.WithoutCancel(ctx))
	for {
		var done bool
		err := conn.QueryRow(ctx, `
			select not exists (select from unsealed) and coalesce((select seq from layers_cursor where institution_id = $1), 0)
			    >= coalesce((select max(seq) from sequenced where institution_id = $1), 0)`, m.Institution).Scan(&done)
		if err != nil || done {
			return err
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(20 * time.Millisecond):
		}
	}
}

// notCopied are tables whose rows are not of the year, or are made otherwise.
var notCopied = []string{"institution", "access_key", "person", "request_key", "unsealed", "layers_cursor", "log_leaf",
	"log_key", "entry", "sequenced"}

// Copy adds years until the museum has so many treatments. The service must not run meanwhile.
func (m Museum) Copy(ctx context.Context, treatments int) error {
	conn, err := pgx.Connect(ctx, m.Super)
	if err != nil {
		return err
	}
	defer conn.Close(context.WithoutCancel(ctx))
	tables, err := m.tables(ctx, conn)
	if err != nil {
		return err
	}
	dropped, err := dropIndexes(ctx, conn, append(slices.Collect(maps.Keys(tables)), "entry", "sequenced", "log_leaf"))
	if err != nil {
		return err
	}
	years := treatments/Treatments - 1
	all, within := errgroup.WithContext(ctx)
	for table, columns := range tables {
		lines, err := linesOf(ctx, conn, fmt.Sprintf(`copy (select %s from %s where institution_id = '%s') to stdout`,
			columns, table, m.Institution))
		if err != nil {
			return err
		}
		if len(lines) == 0 {
			continue
		}
		out := m.into(within, all, table, columns)
		all.Go(func() error {
			for year := 1; year <= years; year++ {
				for _, l := range lines {
					if _, err := out.Write(l.copied(year)); err != nil {
						return err
					}
				}
			}
			return out.Close()
		})
	}
	if err := m.copyEntries(ctx, within, conn, all, years); err != nil {
		return err
	}
	if err := all.Wait(); err != nil {
		return fmt.Errorf("copying the year: %w", err)
	}
	for _, sql := range append(dropped, `analyze`, `checkpoint`, `update layers_cursor set seq = (select max(seq) from sequenced
		where sequenced.institution_id = layers_cursor.institution_id)`) {
		if _, err := conn.Exec(ctx, sql); err != nil {
			return fmt.Errorf("%s: %w", sql, err)
		}
	}
	return nil
}

// tables gives the tables that are copied with their columns.
func (m Museum) tables(ctx context.Context, conn *pgx.Conn) (map[string]string, error) {
	rows, _ := conn.Query(ctx, `
		select c.relname, string_agg(quote_ident(a.attname), ', ' order by a.attnum)
		  from pg_class c join pg_attribute a on a.attrelid = c.oid and a.attnum > 0 and not a.attisdropped and a.attgenerated = ''
		 where c.relkind = 'r' and c.relnamespace = 'public'::regnamespace and c.relname <> all($1)
		   and exists (select from pg_attribute i where i.attrelid = c.oid and i.attname = 'institution_id')
		 group by 1`, notCopied)
	tables := map[string]string{}
	var table, columns string
	_, err := pgx.ForEachRow(rows, []any{&table, &columns}, func() error { tables[table] = columns; return nil })
	return tables, err
}

// dropIndexes drops the indexes of tables that hold no constraint, and gives the statements that make them again.
func dropIndexes(ctx context.Context, conn *pgx.Conn, tables []string) (again []string, err error) {
	rows, _ := conn.Query(ctx, `
		select i.indexrelid::regclass::text, pg_get_indexdef(i.indexrelid) from pg_index i
		 where i.indrelid = any($1::text[]::regclass[])
		   and not exists (select from pg_constraint k where k.conindid = i.indexrelid)`, tables)
	var names []string
	var name, definition string
	if _, err := pgx.ForEachRow(rows, []any{&name, &definition}, func() error {
		names, again = append(names, name), append(again, definition)
		return nil
	}); err != nil {
		return nil, err
	}
	_, err = conn.Exec(ctx, `set maintenance_work_mem = '512MB'; drop index `+strings.Join(names, ", "))
	return again, err
}

// into gives where lines of a table are written to be copied into it.
func (m Museum) into(ctx context.Context, all *errgroup.Group, table, columns string) io.WriteCloser {
	from, to := io.Pipe()
	all.Go(func() (err error) {
		defer func() { from.CloseWithError(errors.Join(err, io.ErrClosedPipe)) }()
		conn, err := pgx.Connect(ctx, m.Super)
		if err != nil {
			return err
		}
		defer conn.Close(context.WithoutCancel(ctx))
		if _, err := conn.Exec(ctx, `set session_replication_role = replica`); err != nil { // what it refers to is copied beside it
			return err
		}
		if _, err = conn.PgConn().CopyFrom(ctx, from, "copy "+table+" ("+columns+") from stdin"); err != nil {
			return fmt.Errorf("%s: %w", table, err)
		}
		return nil
	})
	return buffered(to)
}

// line is a row as COPY writes it, cut where a copy differs.
type line []piece

type piece struct {
	text string
	what byte // 'i' the beginning of an id, 'n' of a number, 'y' of a date, or 0
}

var varying = regexp.MustCompile(`([0-9a-f]{8})-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}|` + numberToken + `|` + yearToken)

// linesOf gives the lines that a COPY writes. People and the institution are the same in all years.
func linesOf(ctx context.Context, conn *pgx.Conn, sql string) ([]line, error) {
	var written bytes.Buffer
	if _, err := conn.PgConn().CopyTo(ctx, &written, sql); err != nil {
		return nil, fmt.Errorf("%s: %w", sql, err)
	}
	kept, err := keptIDs(ctx, conn)
	if err != nil {
		return nil, err
	}
	var lines []line
	for text := range strings.Lines(written.String()) {
		lines = append(lines, cut(text, kept))
	}
	return lines, nil
}

func keptIDs(ctx context.Context, conn *pgx.Conn) (map[string]bool, error) {
	rows, _ := conn.Query(ctx, `select id::text from person union select id::text from institution`)
	ids, err := pgx.CollectRows(rows, pgx.RowTo[string])
	kept := map[string]bool{}
	for _, id := range ids {
		kept[id] = true
	}
	return kept, err
}

func cut(text string, kept map[string]bool) line {
	var l line
	from := 0
	for _, at := range varying.FindAllStringIndex(text, -1) {
		found := text[at[0]:at[1]]
		p := piece{what: 'i'}
		end := at[0] + len(idToken)
		switch {
		case kept[found]:
			continue
		case found == numberToken:
			p.what, end = 'n', at[1]
		case found == yearToken:
			p.what, end = 'y', at[1]
		}
		l = append(l, piece{text: text[from:at[0]]}, p)
		from = end
	}
	return append(l, piece{text: text[from:]})
}

// copied is the line of a later year.
func (l line) copied(year int) []byte {
	b := make([]byte, 0, 1024)
	for _, p := range l {
		switch p.what {
		case 'i':
			b = fmt.Appendf(b, "%08x", 0x01800000+year)
		case 'n':
			b = fmt.Appendf(b, "%07d", 9_000_000+year)
		case 'y':
			b = fmt.Appendf(b, "%04d-", firstYear+year%51)
		default:
			b = append(b, p.text...)
		}
	}
	return b
}

// template is an entry of the year, cut.
type template struct {
	leaf                   ledger.Leaf
	id, record, request    line
	nonce                  []byte
	body                   line
	recordedAt, recordedBy string
}

// copyEntries copies the entries with their digests, their sequence numbers and the leaves of the log.
func (m Museum) copyEntries(ctx, within context.Context, conn *pgx.Conn, all *errgroup.Group, years int) error {
	tree, sealed, year, err := m.logged(ctx, conn)
	if err != nil {
		return err
	}
	entries := m.into(within, all, "entry", "institution_id, id, kind, record_id, revision, act, request_id, recorded_at, "+
		"recorded_by, nonce, digest, body")
	sequenced := m.into(within, all, "sequenced", "institution_id, seq, entry_id, record_id, sealed_at")
	leaves := m.into(within, all, "log_leaf", "institution_id, seq, hashes")
	moment := sealed.UTC().Format(time.RFC3339Nano)
	all.Go(func() error {
		for n := 1; n <= years; n++ {
			for _, e := range year {
				body := e.body.copied(n)
				digest := ledger.Digest(e.nonce, body)
				l := e.leaf
				l.Sequence, l.SealedAt, l.Digest = tree.Size()+1, sealed, digest[:]
				l.Entry, l.Record = uuid.MustParse(string(e.id.copied(n))), uuid.MustParse(string(e.record.copied(n)))
				l.Request = uuid.MustParse(string(e.request.copied(n)))
				kept, err := tree.Add(l.Hash())
				if err != nil {
					return err
				}
				_, a := fmt.Fprintf(entries, "%s\t%s\t%s\t%s\t%d\t%s\t%s\t%s\t%s\t\\\\x%x\t\\\\x%x\t%s\n", m.Institution, l.Entry, l.Kind,
					l.Record, l.Revision, l.Act, l.Request, e.recordedAt, e.recordedBy, e.nonce, digest, body)
				_, b := fmt.Fprintf(sequenced, "%s\t%d\t%s\t%s\t%s\n", m.Institution, l.Sequence, l.Entry, l.Record, moment)
				_, c := fmt.Fprintf(leaves, "%s\t%d\t\\\\x%x\n", m.Institution, l.Sequence, kept)
				if err := errors.Join(a, b, c); err != nil {
					return err
				}
			}
		}
		return errors.Join(entries.Close(), sequenced.Close(), leaves.Close())
	})
	return nil
}
