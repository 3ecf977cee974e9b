package postgres

import (
	"fmt"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5/pgtype"
)

// registerUUIDs has a connection send and read a uuid.UUID as the sixteen bytes that it is. pgx knows
// only that it can be text, and would spell out and parse each one.
func registerUUIDs(m *pgtype.Map) {
	one := &pgtype.Type{Name: "uuid", OID: pgtype.UUIDOID, Codec: uuidCodec{}}
	m.RegisterType(one)
	m.RegisterType(&pgtype.Type{Name: "_uuid", OID: pgtype.UUIDArrayOID, Codec: &pgtype.ArrayCodec{ElementType: one}})
	m.TryWrapEncodePlanFuncs = append([]pgtype.TryWrapEncodePlanFunc{wrapUUIDs}, m.TryWrapEncodePlanFuncs...)
}

// uuidCodec is pgx's, and takes a uuid.UUID as well.
type uuidCodec struct{ pgtype.UUIDCodec }

func (c uuidCodec) PlanEncode(m *pgtype.Map, oid uint32, format int16, value any) pgtype.EncodePlan {
	if _, is := value.(uuid.UUID); is && format == pgtype.BinaryFormatCode {
		return uuidBytes{}
	}
	return c.UUIDCodec.PlanEncode(m, oid, format, value)
}

func (c uuidCodec) PlanScan(m *pgtype.Map, oid uint32, format int16, target any) pgtype.ScanPlan {
	if _, is := target.(*uuid.UUID); is && format == pgtype.BinaryFormatCode {
		return uuidBytes{}
	}
	return c.UUIDCodec.PlanScan(m, oid, format, target)
}

type uuidBytes struct{}

func (uuidBytes) Encode(value any, to []byte) ([]byte, error) {
	id := value.(uuid.UUID)
	return append(to, id[:]...), nil
}

// Scan leaves what it reads into as it is where there is no value, as uuid.UUID itself does.
func (uuidBytes) Scan(from []byte, into any) error {
	if from != nil && len(from) != len(uuid.Nil) {
		return fmt.Errorf("a UUID of %d bytes", len(from))
	}
	copy(into.(*uuid.UUID)[:], from)
	return nil
}

// uuidSlice is the plan of a list of UUIDs, without reflection.
type uuidSlice struct{ next pgtype.EncodePlan }

func wrapUUIDs(value any) (pgtype.WrappedEncodePlanNextSetter, any, bool) {
	ids, is := value.([]uuid.UUID)
	return &uuidSlice{}, pgtype.FlatArray[uuid.UUID](ids), is
}

func (p *uuidSlice) SetNext(next pgtype.EncodePlan) { p.next = next }

func (p *uuidSlice) Encode(value any, to []byte) ([]byte, error) {
	return p.next.Encode(pgtype.FlatArray[uuid.UUID](value.([]uuid.UUID)), to)
}
