package wire

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/getkin/kin-openapi/openapi3"

	"meniscus/internal/fault"
	"meniscus/internal/record"
)

// MostFaults is how many faults are listed; validation ends at the last.
const MostFaults = 100

// Judge validates a decoded value by a schema of the contract and lists all faults, at
// most MostFaults.
//
// It costs linear time in the value's size: it checks lengths before the items, and
// stops at MostFaults faults or when ctx ends. It knows the keywords that requests of
// the contract use; the library validates texts and numbers.
func Judge(ctx context.Context, schema *openapi3.Schema, value any) error {
	j := &judgement{ctx: ctx}
	j.value(schema, value)
	if err := ctx.Err(); err != nil {
		return fmt.Errorf("judging a value: %w", err)
	}
	j.faults = j.faults[:min(len(j.faults), MostFaults)]
	slices.SortStableFunc(j.faults, func(a, b *fault.Fault) int { return strings.Compare(a.Pointer, b.Pointer) })
	return slices.CompactFunc(j.faults, func(a, b *fault.Fault) bool {
		return a.Pointer == b.Pointer && a.Code == b.Code
	}).Err()
}

// judgement is the validation of one value.
type judgement struct {
	ctx    context.Context
	at     path
	names  []string // of the members on the way, those of each object in order
	values int      // validated so far
	faults fault.List
}

// over tells that the validation has ended.
func (j *judgement) over() bool {
	return len(j.faults) >= MostFaults || j.values%1024 == 0 && j.ctx.Err() != nil
}

func (j *judgement) add(s *openapi3.Schema, keyword string) {
	j.faults = append(j.faults, schemaFault(s, keyword, j.at.pointer()))
}

// addType adds the fault of a list or an object where the schema has another type.
func (j *judgement) addType(s *openapi3.Schema) {
	if len(s.Enum) > 0 {
		j.add(s, "enum")
		return
	}
	j.add(s, "type")
}

func (j *judgement) value(s *openapi3.Schema, value any) {
	j.values++
	switch v := value.(type) {
	case map[string]any:
		j.object(s, v)
	case []any:
		j.list(s, v)
	case string:
		j.text(s, v, value)
	default:
		j.scalar(s, v)
	}
}

func (j *judgement) object(s *openapi3.Schema, members map[string]any) {
	if !s.Type.Permits(openapi3.TypeObject) {
		j.addType(s)
		return
	}
	if n := uint64(len(members)); n < s.MinProps || s.MaxProps != nil && n > *s.MaxProps {
		j.add(s, "maxProperties")
	}
	for _, name := range s.Required {
		if _, given := members[name]; !given {
			j.enter(step{name: name, named: true})
			j.add(s, "required")
			j.leave()
		}
	}
	begin := len(j.names)
	for name := range members {
		j.names = append(j.names, name)
	}
	names := j.names[begin:]
	slices.Sort(names)
	for _, name := range names {
		if j.over() {
			break
		}
		j.enter(step{name: name, named: true})
		j.member(s, name, members[name])
		j.leave()
	}
	j.names = j.names[:begin]
}

func (j *judgement) member(s *openapi3.Schema, name string, value any) {
	open := s.AdditionalProperties.Has
	switch p := s.Properties[name]; {
	case p != nil:
		j.value(p.Value, value)
	case open != nil && !*open:
		j.add(s, "properties")
	}
}

func (j *judgement) list(s *openapi3.Schema, items []any) {
	if !s.Type.Permits(openapi3.TypeArray) {
		j.addType(s)
		return
	}
	n := uint64(len(items))
	if s.MaxItems != nil && n > *s.MaxItems {
		j.add(s, "maxItems")
		return
	}
	if n < s.MinItems {
		j.add(s, "minItems")
	}
	if s.Items == nil { // a value of any kind
		return
	}
	for i, item := range items {
		if j.over() {
			return
		}
		j.enter(step{index: i})
		j.value(s.Items.Value, item)
		j.leave()
	}
}

func (j *judgement) text(s *openapi3.Schema, text string, value any) {
	switch {
	case s.Pattern == "" && slices.Contains(s.Enum, value): // a word of the contract's
	case len(s.Enum) > 0 || !s.Type.Permits(openapi3.TypeString):
		j.scalar(s, value)
	case s.MaxLength != nil && uint64(utf8.RuneCountInString(text)) > *s.MaxLength:
		j.add(s, "maxLength") // before the pattern is matched against all of it
	case isFree(s) && record.IsBlank(text):
		j.faults = append(j.faults, fault.New("text-blank", j.at.pointer(),
			"Nothing of this text can be seen; write something, or leave the member out."))
	default:
		j.scalar(s, value)
	}
}

// scalar validates a value with the library.
func (j *judgement) scalar(s *openapi3.Schema, value any) {
	if err := s.VisitJSON(value, openapi3.MultiErrors(), openapi3.VisitAsRequest()); err != nil {
		j.collect(s, err)
	}
}

func (j *judgement) collect(s *openapi3.Schema, err error) {
	if many, is := errors.AsType[openapi3.MultiError](err); is {
		for _, e := range many {
			j.collect(s, e)
		}
		return
	}
	keyword := ""
	if one, is := errors.AsType[*openapi3.SchemaError](err); is {
		keyword = one.SchemaField
	}
	j.add(s, keyword)
}

// enter makes the path one step longer, until leave.
func (j *judgement) enter(s step) { j.at = append(j.at, s) }

func (j *judgement) leave() { j.at = j.at[:len(j.at)-1] }

// isFree tells whether a schema allows any text without certain characters.
func isFree(s *openapi3.Schema) bool { return strings.HasPrefix(s.Pattern, "^[^") }
