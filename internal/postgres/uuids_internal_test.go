package postgres

import (
	"bytes"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"
	"github.com/jackc/pgx/v5/pgtype"
)

// A UUID, and a list of them, are sent in the same bytes as by pgx alone, and read back.
func TestUUIDsAreSentAsBytes(t *testing.T) {
	t.Parallel()
	plain, ours := pgtype.NewMap(), pgtype.NewMap()
	registerUUIDs(ours)
	one, two := uuid.New(), uuid.New()
	for _, x := range []struct {
		oid   uint32
		value any
	}{
		{pgtype.UUIDOID, one}, {pgtype.UUIDOID, &one}, {pgtype.UUIDOID, (*uuid.UUID)(nil)},
		{pgtype.TextOID, one}, {pgtype.UUIDArrayOID, []uuid.UUID{one, two}}, {pgtype.UUIDArrayOID, []uuid.UUID{}},
		{pgtype.UUIDArrayOID, []uuid.UUID(nil)}, {pgtype.UUIDArrayOID, []*uuid.UUID{&one, nil}},
	} {
		want, err := plain.Encode(x.oid, pgtype.BinaryFormatCode, x.value, nil)
		if err != nil {
			t.Fatal(err)
		}
		got, err := ours.Encode(x.oid, pgtype.BinaryFormatCode, x.value, nil)
		if err != nil || !bytes.Equal(got, want) || (got == nil) != (want == nil) {
			t.Errorf("%#v was sent as %x, %v, want %x", x.value, got, err, want)
		}
	}
	bytesOf, _ := ours.Encode(pgtype.UUIDArrayOID, pgtype.BinaryFormatCode, []uuid.UUID{one, two}, nil) // was tried above
	var list []uuid.UUID
	err := ours.Scan(pgtype.UUIDArrayOID, pgtype.BinaryFormatCode, bytesOf, &list)
	if diff := cmp.Diff([]uuid.UUID{one, two}, list); err != nil || diff != "" {
		t.Errorf("a list was read as another: %v\n%s", err, diff)
	}
	none := &one
	if err := ours.Scan(pgtype.UUIDOID, pgtype.BinaryFormatCode, nil, &none); err != nil || none != nil {
		t.Errorf("no UUID was read as %v, %v", none, err)
	}
	if err := ours.Scan(pgtype.UUIDOID, pgtype.BinaryFormatCode, []byte("short"), &two); err == nil {
		t.Error("five bytes were read as a UUID")
	}
}
