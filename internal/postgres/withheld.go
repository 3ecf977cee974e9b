package postgres

import (
	"context"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"meniscus/internal/fault"
	"meniscus/internal/record"
)

type withholdingKey struct{}

// Withholding is a context whose queries give restricted records in their withheld form, or as
// they are.
func Withholding(ctx context.Context, withheld bool) context.Context {
	return context.WithValue(ctx, withholdingKey{}, withheld)
}

// Withholds tells whether a context is Withholding.
func Withholds(ctx context.Context) bool {
	withheld, _ := ctx.Value(withholdingKey{}).(bool)
	return withheld
}

// setWithhold has told give what is restricted in its withheld form, in institutions in which
// anything is.
const setWithhold = `select set_config('app.withhold', case when ` + anyRestricted + ` then 'on' else '' end, true)`

const anyRestricted = `exists (select from specimen where institution_id = $1 and restricted)`

// withhold has a batch withhold what its context does, after its tenant is set.
func withhold(ctx context.Context, b *batch) {
	if Withholds(ctx) {
		var set pgx.Batch
		set.Queue(setWithhold, b.institution)
		b.QueuedQueries = slices.Insert(b.QueuedQueries, 1, set.QueuedQueries...)
	}
}

// toldBody is the body of an entry e as its reader is told it.
const toldBody = `case when current_setting('app.withhold', true) = 'on'
	then told(e.kind, e.record_id, e.body) else e.body end`

// notWithheld is the condition that a treatment t is told.
const notWithheld = `not withheld($1, 'treatment', t.id)`

// restrictedOf is a query of the ids of the records of a kind that are restricted: what function
// restricted says of one, for all, and by index.
func restrictedOf(kind record.Kind) string {
	const specimens = `select r.id from specimen s cross join lateral records_of($1, survivor_of($1, s.id)) r(id)
		 where s.institution_id = $1 and s.restricted`
	if kind == record.KindSpecimen {
		return specimens
	}
	return `select k.id from (` + specimens + `) f join ` + string(kind) + ` k on k.institution_id = $1 and k.specimen_id = f.id
		union select k.id from (` + specimens + `) f join ` + string(kind) + ` k on k.institution_id = $1 and k.joined_to_id = f.id`
}

// Withheld tells whether the row's words are withheld from its reader.
func (r Row) Withheld() bool { return r.Body != nil && strings.HasPrefix(*r.Body, `{"withheld"`) }

// ErrWithheld says that a record is restricted; the caller is refused.
var ErrWithheld = fault.Of(fault.Forbidden, "record-restricted", "What this needs is restricted: a key with the scope "+
	"\"restricted\" is told it, and may change it.")

// Withheld tells whether any of these records is withheld from whom the context reads for.
func (s Tenant) Withheld(ctx context.Context, ids []uuid.UUID) (bool, error) {
	return s.withheld(ctx, `exists (select from unnest($2::uuid[]) as a(id) where withheld($1, 'specimen', a.id)
		or withheld($1, 'treatment', a.id) or withheld($1, 'plan', a.id))`, ids)
}

// WithheldAmong tells which of specimens are withheld.
func (s Tenant) WithheldAmong(ctx context.Context, specimens []uuid.UUID) (map[uuid.UUID]bool, error) {
	if !Withholds(ctx) || len(specimens) == 0 {
		return nil, nil
	}
	rows, err := collect[idRow](ctx, s,
		`select a.id from unnest($2::uuid[]) as a(id) where withheld($1, 'specimen', a.id)`, s.institution, specimens)
	found := map[uuid.UUID]bool{}
	for _, row := range rows {
		found[row.ID] = true
	}
	return found, err
}

// RestrictedSince tells whether any specimen that is withheld was restricted, or changed, after a
// moment, or an hour before: the moment may be of another clock.
func (s Tenant) RestrictedSince(ctx context.Context, at time.Time) (bool, error) {
	return s.withheld(ctx, `exists (
		select from specimen s join entry e on e.institution_id = $1 and e.record_id = s.id
		 where s.institution_id = $1 and s.restricted and e.recorded_at > $2::timestamptz - interval '1 hour')`, at)
}

// AnyWithheld tells whether any record of the institution is.
func (s Tenant) AnyWithheld(ctx context.Context) (bool, error) {
	return s.withheld(ctx, `$1::uuid is not null and current_setting('app.withhold', true) = 'on'`)
}

func (s Tenant) withheld(ctx context.Context, condition string, args ...any) (bool, error) {
	if !Withholds(ctx) {
		return false, nil
	}
	type one struct{ Found bool }
	rows, err := collect[one](ctx, s, `select `+condition+` as found`, append([]any{s.institution}, args...)...)
	return err == nil && rows[0].Found, err
}
