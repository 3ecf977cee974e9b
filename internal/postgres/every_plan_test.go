package postgres_test

import (
	"context"
	"maps"
	"reflect"
	"slices"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5/pgxpool"

	"meniscus/internal/pgtest"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
)

// readsAll are the questions that read a whole table, with what is known of why. A new one is to
// be mended, or to say why it must.
var readsAll = map[string]string{
	"Head": "counts all", "LastRevisions": "reads all, page by page", "ReversibleWalk": "reports all, page by page",
	"Restore": "asks whether there is anything", "TakenUnsaid": "verify looks at all that has no words",
	"BelievedAt": "scans, and ought not to", "ListSince": "scans, and ought not to",
	"SamplingsOf": "scans, and ought not to", "SequenceAt": "scans, and ought not to",
	"ShelfAt": "scans, and ought not to",
}

// readsNothing are the operations that read no table when they are called as below: they write, or are
// given nothing to read.
var readsNothing = []string{"AmendReportSchedule", "ChooseCollectionBody", "CreateAccessKey", "DeleteWebhook",
	"EndReportSchedule", "LayersSeen", "MoreBatches", "NewKey", "PremisesHold", "Redact", "RelyOnMaterials", "SavePlanCheck",
	"SetAside", "Survivor", "TakeBack", "TuneRule", "WriteEach"}

// ofTests are methods that only tests have.
var ofTests = []string{"Ask", "Hold", "Raise"}

// sample makes a value of a type, with its members: what a statement is asked with here.
func (k kin) sample(of reflect.Type, depth int) reflect.Value {
	switch v := reflect.New(of).Elem(); {
	case of == reflect.TypeFor[uuid.UUID]():
		return reflect.ValueOf(k.id(1))
	case of == reflect.TypeFor[record.Kind]():
		return reflect.ValueOf(record.KindTreatment)
	case of == reflect.TypeFor[postgres.State](), depth > 6:
		return v
	case of == reflect.TypeFor[time.Time]():
		return reflect.ValueOf(time.Date(1980, 5, 2, 0, 0, 0, 0, time.UTC))
	case of == reflect.TypeFor[time.Duration]():
		return reflect.ValueOf(time.Minute)
	case of == reflect.TypeFor[[]byte]():
		return reflect.ValueOf([]byte(`{}`))
	default:
		switch of.Kind() {
		case reflect.Int, reflect.Int32, reflect.Int64:
			v.SetInt(100)
		case reflect.String:
			v.SetString("resin-7")
		case reflect.Slice:
			return reflect.Append(v, k.sample(of.Elem(), depth+1))
		case reflect.Pointer:
			v.Set(reflect.New(of.Elem()))
			v.Elem().Set(k.sample(of.Elem(), depth+1))
		case reflect.Struct:
			for i := range of.NumField() {
				if of.Field(i).IsExported() {
					v.Field(i).Set(k.sample(of.Field(i).Type, depth+1))
				}
			}
		case reflect.Func:
			return reflect.MakeFunc(of, func([]reflect.Value) []reflect.Value {
				out := make([]reflect.Value, of.NumOut())
				for i := range out {
					out[i] = reflect.Zero(of.Out(i))
				}
				return out
			})
		}
		return v
	}
}

// ask calls a method of the store with samples.
func (k kin) ask(ctx context.Context, s postgres.Tenant, m reflect.Method) error {
	args := []reflect.Value{reflect.ValueOf(s), reflect.ValueOf(ctx)}
	for i := 2; i < m.Type.NumIn(); i++ {
		args = append(args, k.sample(m.Type.In(i), 0))
	}
	call := m.Func.Call
	if m.Type.IsVariadic() {
		call = m.Func.CallSlice
	}
	out := call(args)
	if len(out) == 0 {
		return nil
	}
	err, _ := out[len(out)-1].Interface().(error)
	return err
}

// TestEveryStatementReadsByIndex calls every method of a tenant's store that takes a context, so that a
// new one is called too, and explains what each reads: no statement scans a table that grows with
// the record, except those that read all of it.
func TestEveryStatementReadsByIndex(t *testing.T) {
	t.Parallel()
	const treatments = 10_000
	db := pgtest.New(t)
	k := kin{t, pgtest.Pool(t, db.Super()), uuid.New()}
	k.sets("session_replication_role", "replica")
	k.museum(treatments)
	cfg, err := pgxpool.ParseConfig(db.App())
	if err != nil {
		t.Fatal(err)
	}
	seen := &sent{args: map[string][]any{}}
	cfg.ConnConfig.Tracer = seen
	store, err := postgres.OpenWith(t.Context(), cfg)
	if err != nil {
		t.Fatal(err)
	}
	defer store.Close()
	s := store.For(k.institution)
	asks := map[string]func(context.Context) error{}
	for m := range reflect.TypeFor[postgres.Tenant]().Methods() {
		if m.Type.NumIn() > 1 && m.Type.In(1) == reflect.TypeFor[context.Context]() && !slices.Contains(ofTests, m.Name) {
			asks[m.Name] = func(ctx context.Context) error { return k.ask(ctx, s, m) }
		}
	}
	for _, name := range slices.Sorted(maps.Keys(asks)) {
		seen.args, seen.all = map[string][]any{}, nil
		ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
		failed := asks[name](ctx)
		cancel()
		if nothing := len(seen.all) == 0; nothing != slices.Contains(readsNothing, name) {
			t.Errorf("%s read by %d statements (%v): list it among those that read nothing, or no longer", name, len(seen.all), failed)
		}
		for _, sql := range seen.all {
			plan := k.plan(db.App(), sql, seen.args[sql])
			scans := growing.FindAllString(plan, -1)
			if len(scans) > 0 && readsAll[name] == "" {
				t.Errorf("%s: %v in\n%s\n%s", name, scans, sql, plan)
			}
		}
	}
}
