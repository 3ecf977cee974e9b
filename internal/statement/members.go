package statement

import (
	"reflect"
	"strings"
	"time"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/edtf"
	"meniscus/internal/quantity"
	"meniscus/internal/record"
)

// Members are the members of the statement with their values as they were sent. They
// are found by reflection, so that new members of the contract are included, and values
// that no reader understands.
func (r *Reading) Members() record.Members {
	members, _ := saidIn(reflect.ValueOf(r.said)).(record.Members)
	return members
}

// saidIn converts a value of a wire type.
func saidIn(v reflect.Value) any {
	switch x := v.Interface().(type) {
	case uuid.UUID, time.Time, quantity.Decimal:
		return x
	case api.AnswerableDate:
		if x.Edtf != nil {
			return dateOrText(*x.Edtf)
		}
	}
	switch v.Kind() {
	case reflect.Pointer:
		return saidIn(v.Elem())
	case reflect.Struct:
		return membersOf(v)
	case reflect.Slice:
		list := make([]any, v.Len())
		for i := range list {
			list[i] = saidIn(v.Index(i))
		}
		return list
	case reflect.String:
		if v.Type() != reflect.TypeFor[string]() { // the contract's lists have types of their own
			return record.Word(v.String())
		}
		return v.String()
	case reflect.Int32, reflect.Int64:
		return int(v.Int())
	}
	return v.Interface()
}

// membersOf are the members that are present.
func membersOf(v reflect.Value) record.Members {
	var members record.Members
	for i := range v.NumField() {
		name, _, _ := strings.Cut(v.Type().Field(i).Tag.Get("json"), ",")
		if f := v.Field(i); f.Kind() != reflect.Pointer || !f.IsNil() {
			members = append(members, record.Member{Name: name, Value: saidIn(f)})
		}
	}
	return members
}

// dateOrText is a date, or the text if it is not one.
func dateOrText(text string) any {
	if date, err := edtf.Parse(text); err == nil {
		return date
	}
	return text
}
