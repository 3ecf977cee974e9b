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

// Members are what the statement says, member by member, as it was said. A member
// that the contract gains is among them, and so is what no reader understands.
func (r *Reading) Members() record.Members {
	members, _ := saidIn(reflect.ValueOf(r.said)).(record.Members)
	return members
}

// saidIn is what a value of a wire type says.
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
	case reflect.Int32:
		return int(v.Int())
	}
	return v.Interface()
}

// membersOf are the members that are said.
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

// dateOrText is a date, or its words where they are none.
func dateOrText(text string) any {
	if date, err := edtf.Parse(text); err == nil {
		return date
	}
	return text
}
