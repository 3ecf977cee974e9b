package statement

import (
	"bytes"
	"errors"
	"fmt"

	"github.com/go-json-experiment/json/jsontext"
	"github.com/google/uuid"

	"meniscus/internal/fault"
	"meniscus/internal/material"
	"meniscus/internal/record"
	"meniscus/internal/wire"
)

// A Reading is a statement that was read: its value, its validation errors and its
// references, each with its JSON Pointer.
type Reading struct {
	Value record.Value
	// Faults are the validation errors that can be found without other records and
	// materials.
	Faults fault.List
	// Records are references by id.
	Records []NamedRecord
	// People are references by name, and Specimens references by number: see PutPerson
	// and PutSpecimen.
	People    []NamedPerson
	Specimens []NamedSpecimen
	Materials []NamedMaterial
	// Received says that the statement came from another institution.
	Received bool

	said     any                            // the statement, decoded
	replaced map[jsontext.Pointer]uuid.UUID // ids that have replaced names, by the names' pointers
}

// NamedRecord is a reference to a record by its id.
type NamedRecord struct {
	Pointer string
	Kind    record.Kind
	ID      uuid.UUID
}

// NamedPerson is a reference to a person by name.
type NamedPerson struct {
	Pointer string
	Name    string
	into    *record.Ref
}

// NamedSpecimen is a reference to a specimen by a number.
type NamedSpecimen struct {
	Pointer      string
	Number       record.Identifier
	Collection   string
	DistinctFrom []uuid.UUID // specimens that it is distinct from, although their numbers are nearly the same
	into         *record.Ref
}

// NamedMaterial is a reference to a material by its id.
type NamedMaterial struct {
	Pointer string
	ID      string
}

// kinds read the words of each kind.
var kinds = map[record.Kind]func(words []byte) (*Reading, error){
	record.KindPerson:       decoded(OfPerson),
	record.KindSpecimen:     decoded(OfSpecimen),
	record.KindSupply:       decoded(OfSupply),
	record.KindBatch:        decoded(OfBatch),
	record.KindAmountChange: decoded(OfAmountChange),
	record.KindTreatment:    decoded(OfTreatment),
	record.KindPlan:         decoded(OfPlan),
	record.KindMaterial:     decoded(OfMaterial),
}

// Known tells whether statements of a kind can be read.
func Known(kind record.Kind) bool { return kinds[kind] != nil }

// Read reads the words of a statement. The error is a fault.List where the words do not
// have the shape that the contract gives them; the schema has been checked before, so
// that only errors remain that a schema cannot find, such as a UUID's form or a
// number's digits.
func Read(kind record.Kind, words []byte) (*Reading, error) {
	read, known := kinds[kind]
	if !known {
		return nil, fmt.Errorf("reading a statement: there is no kind %q", kind)
	}
	return read(words)
}

// decoded makes the reader of words from the reader of a wire type.
func decoded[T any](read func(*T) *Reading) func([]byte) (*Reading, error) {
	return func(words []byte) (*Reading, error) {
		st := new(T)
		if err := wire.Decode(words, st); err != nil {
			return nil, err
		}
		return read(st), nil
	}
}

// Check lists all validation errors of a new statement of the record self.
func (r *Reading) Check(self record.Ref, known *material.Base) (fault.List, error) {
	faults := append(fault.List{}, r.Faults...)
	for _, m := range r.Materials {
		if _, here := known.Material(m.ID); !here {
			faults.Add("material-unknown", m.Pointer, "No material has this id; /v1/materials lists them. "+
				"Make one of your own first, or write the words as they stand.")
		}
	}
	return faults, faults.Merge("", r.Value.Check(self))
}

// PutPerson replaces a person's name with the id.
func (r *Reading) PutPerson(p NamedPerson, id uuid.UUID) { r.put(p.Pointer, p.into, id) }

// PutSpecimen replaces a specimen's number with the id.
func (r *Reading) PutSpecimen(s NamedSpecimen, id uuid.UUID) { r.put(s.Pointer, s.into, id) }

func (r *Reading) put(pointer string, into *record.Ref, id uuid.UUID) {
	if r.replaced == nil {
		r.replaced = map[jsontext.Pointer]uuid.UUID{}
	}
	r.replaced[jsontext.Pointer(pointer)] = id
	*into = id
}

// Where gives the pointer of the first name that was replaced with the record's id.
func (r *Reading) Where(id uuid.UUID) (pointer string, named bool) {
	for at, put := range r.replaced {
		if put == id && (!named || string(at) < pointer) {
			pointer, named = string(at), true
		}
	}
	return pointer, named
}

// Words is the statement as it was sent, with the caller's order of members and digits,
// without white space, and with ids instead of names.
func (r *Reading) Words(raw []byte) ([]byte, error) {
	var out bytes.Buffer
	dec, enc := jsontext.NewDecoder(bytes.NewReader(raw)), jsontext.NewEncoder(&out)
	for {
		kind := dec.PeekKind()
		if kind == '{' || kind == '}' || kind == '[' || kind == ']' {
			token, err := dec.ReadToken()
			if err := errors.Join(err, enc.WriteToken(token)); err != nil {
				return nil, fmt.Errorf("rewriting a statement: %w", err)
			}
			if dec.StackDepth() == 0 {
				return bytes.TrimSuffix(out.Bytes(), []byte("\n")), nil
			}
			continue
		}
		value, err := dec.ReadValue()
		if err := errors.Join(err, enc.WriteValue(value)); err != nil {
			return nil, fmt.Errorf("rewriting a statement: %w", err)
		}
		if id, named := r.replaced[dec.StackPointer()]; named {
			ref := fmt.Appendf(nil, `{"id":%q}`, id.String())
			if err := errors.Join(dec.SkipValue(), enc.WriteValue(ref)); err != nil {
				return nil, fmt.Errorf("rewriting a statement: %w", err)
			}
		}
	}
}
