package postgres_test

import (
	"context"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"meniscus/internal/postgres"
	"meniscus/internal/record"
)

// readsAll are the questions that read a whole table, with what is known of why. A new one is to
// be mended, or to say why it must.
var readsAll = map[string]string{
	"Head": "counts all", "ReversibleWalk": "is asked by index, unlike its explanation here", "LastRevisions": "reads all, page by page",
	"Restore": "asks whether there is anything", "TakenUnsaid": "verify looks at all that has no words",
}

// readsNothing are the operations that read no table when they are called as below: they write, or are
// given nothing to read.
var readsNothing = []string{"AmendReportSchedule", "ChooseCollectionBody", "DeleteWebhook",
	"EndReportSchedule", "EndSession", "EndSessionsOf", "FromStandby", "LayersSeen", "MoreBatches", "NewKey", "OpenSession",
	"PremisesHold", "Redact", "RelyOnMaterials", "SavePlanCheck",
	"SetAside", "Survivor", "TakeBack", "TuneRule", "WriteAccesses", "WriteEach"}

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

// byEveryMethod calls every method of the store that takes a context, so that a new one is called too:
// none scans but those that read all of it.
func (x explaining) byEveryMethod(t *testing.T) {
	for m := range reflect.TypeFor[postgres.Tenant]().Methods() {
		if m.Type.NumIn() < 2 || m.Type.In(1) != reflect.TypeFor[context.Context]() ||
			slices.Contains(ofTests, m.Name) {
			continue
		}
		plans, statements, failed := x.scans(func() error {
			ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
			defer cancel()
			ofRestricted := strings.Contains(m.Name, "Withheld") || strings.Contains(m.Name, "Restricted")
			return x.ask(postgres.Withholding(ctx, ofRestricted), x.store, m)
		})
		if nothing := statements == 0; nothing != slices.Contains(readsNothing, m.Name) {
			t.Errorf("%s read by %d statements (%v): list it among those that read nothing, or no longer", m.Name,
				statements, failed)
		}
		for sql, plan := range plans {
			if readsAll[m.Name] == "" {
				t.Errorf("%s: %v in\n%s\n%s", m.Name, growing.FindAllString(plan, -1), sql, plan)
			}
		}
		if len(plans) == 0 && readsAll[m.Name] != "" {
			t.Errorf("%s scans no longer: take it from the list", m.Name)
		}
	}
}
