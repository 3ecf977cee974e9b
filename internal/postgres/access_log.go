package postgres

import (
	"context"
	"encoding/binary"
	"fmt"
	"strings"
	"time"

	"github.com/google/uuid"

	"meniscus/internal/access"
)

// AccessFilter is what is asked of the access log.
type AccessFilter struct {
	Record *uuid.UUID // only of this record or key
	Person *uuid.UUID // only by this person
	Since  *time.Time
	Before *time.Time
	After  uuid.UUID // the last line of the page before; zero for the first page
}

// accessRow is a line as it is stored.
type accessRow struct {
	ID       uuid.UUID
	What     string
	Times    int
	KeyID    *uuid.UUID
	PersonID *uuid.UUID
	RecordID *uuid.UUID

	Operation *string
	Status    *int
	Sort      *string
}

// Accesses gives lines of the institution's access log, newest first.
func (s Tenant) Accesses(ctx context.Context, f AccessFilter, limit int) ([]access.Access, error) {
	conditions, args := []string{"institution_id = $1"}, []any{s.institution, limit}
	where := func(condition string, value any) {
		args = append(args, value)
		conditions = append(conditions, fmt.Sprintf(condition, len(args)))
	}
	if f.Record != nil {
		where("record_id = $%d", *f.Record)
	}
	if f.Person != nil {
		where("person_id = $%d", *f.Person)
	}
	if f.Since != nil {
		where("id >= $%d", firstIDAt(*f.Since))
	}
	if f.Before != nil {
		where("id < $%d", firstIDAt(*f.Before))
	}
	if f.After != uuid.Nil {
		where("id < $%d", f.After)
	}
	rows, err := collectByIndex[accessRow](ctx, s, `
		select id, what, times, key_id, person_id, record_id, operation, status, sort from access_log
		 where `+strings.Join(conditions, " and ")+` order by id desc limit $2`, args...)
	found := make([]access.Access, len(rows))
	for i, row := range rows {
		found[i] = access.Access{ID: row.ID, What: access.What(row.What), Times: row.Times, Key: orZero(row.KeyID),
			Person: orZero(row.PersonID), Record: orZero(row.RecordID), Operation: orZero(row.Operation),
			Status: orZero(row.Status), Sort: orZero(row.Sort)}
	}
	return found, err
}

// firstIDAt is the least UUIDv7 of a moment, to the millisecond.
func firstIDAt(t time.Time) (id uuid.UUID) {
	ms := min(max(t.UnixMilli(), 0), 1<<48-1)
	binary.BigEndian.PutUint64(id[:8], uint64(ms)<<16)
	return id
}

// WriteAccesses puts accesses on record, those that are there already once.
func (s Tenant) WriteAccesses(ctx context.Context, p access.Page) error {
	b := newBatch(s.institution)
	b.logAccesses(p.Accesses...)
	if len(p.Used) > 0 {
		keys, times := make([]uuid.UUID, 0, len(p.Used)), make([]time.Time, 0, len(p.Used))
		for key, at := range p.Used {
			keys, times = append(keys, key), append(times, at)
		}
		b.Queue(`
			insert into key_use (institution_id, key_id, used_at)
			select $1, k, at from unnest($2::uuid[], $3::timestamptz[]) u(k, at) order by k
			on conflict (key_id, institution_id) do update set used_at = excluded.used_at
			 where key_use.used_at < excluded.used_at`, s.institution, keys, times)
	}
	return s.run(ctx, b)
}

// logAccesses puts lines into the access log when the batch runs.
func (b *batch) logAccesses(accesses ...access.Access) {
	if len(accesses) == 0 {
		return
	}
	n := len(accesses)
	ids, whats, times := make([]uuid.UUID, n), make([]string, n), make([]int32, n)
	operations, statuses, sorts := make([]*string, n), make([]*int, n), make([]*string, n)
	keys, people, records := make([]*uuid.UUID, n), make([]*uuid.UUID, n), make([]*uuid.UUID, n)
	for i, a := range accesses {
		if a.ID == uuid.Nil {
			a.ID = uuid.Must(uuid.NewV7())
		}
		ids[i], whats[i], times[i] = a.ID, string(a.What), int32(min(a.Times, 1<<31-1))
		operations[i], statuses[i], sorts[i] = orNil(a.Operation), orNil(a.Status), orNil(a.Sort)
		keys[i], people[i], records[i] = orNil(a.Key), orNil(a.Person), orNil(a.Record)
	}
	b.Queue(`
		insert into access_log (institution_id, id, what, times, key_id, person_id, record_id, operation, status, sort)
		select $1, * from unnest($2::uuid[], $3::text[], $4::int[], $5::uuid[], $6::uuid[], $7::uuid[], $8::text[], $9::int[], $10::text[])
		on conflict do nothing`, b.institution, ids, whats, times, keys, people, records, operations, statuses, sorts)
}

// logIf puts a line into the access log when the batch runs, if a condition holds then; the
// condition has its arguments from $8 on.
func (b *batch) logIf(condition string, a access.Access, args ...any) {
	b.Queue(`
		insert into access_log (institution_id, id, what, times, key_id, person_id, record_id)
		select $1, $2, $3, $4, $5, $6, $7 where `+condition,
		append([]any{b.institution, uuid.Must(uuid.NewV7()), string(a.What), a.Times, orNil(a.Key), orNil(a.Person),
			orNil(a.Record)}, args...)...)
}

func orNil[T comparable](v T) *T {
	var zero T
	if v == zero {
		return nil
	}
	return &v
}

func orZero[T any](v *T) (zero T) {
	if v == nil {
		return zero
	}
	return *v
}

// forgetAtATime is how many lines of an institution are deleted in one statement.
const forgetAtATime = 5000

// ForgetAccesses deletes lines of the access log from before a moment, a bounded number of them, and
// tells how many. What became of keys stays.
func (d *Deliverer) ForgetAccesses(ctx context.Context, before time.Time) (int, error) {
	done, err := d.pool.Exec(ctx, `
		delete from access_log l using institution i cross join lateral (
			select o.institution_id, o.id from access_log o
			 where o.institution_id = i.id and o.id < $1 and o.what <> all($2) order by o.id limit $3 offset 0) old
		 where l.institution_id = old.institution_id and l.id = old.id`, firstIDAt(before),
		[]string{string(access.KeyMade), string(access.KeyReplaced), string(access.KeyRevoked)}, forgetAtATime)
	if err != nil {
		return 0, fmt.Errorf("forgetting accesses: %w", err)
	}
	return int(done.RowsAffected()), nil
}
