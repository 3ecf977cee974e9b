package recording

import (
	"context"

	"github.com/google/uuid"

	"meniscus/internal/fault"
	"meniscus/internal/postgres"
)

// adoptingReason is the reason of a source that adopts a record where it gives none.
const adoptingReason = "Stated by its source, which it had none of before."

// adoptNamed is adopt of the record that the caller names.
func (a Author) adoptNamed(ctx context.Context, says Says) (Heard, bool, error) {
	row, err := a.Store.Current(ctx, *says.Record)
	switch {
	case err != nil:
		return Heard{}, false, err
	case row.Kind != says.Kind:
		return Heard{}, false, fault.Of(fault.NotFound, string(says.Kind)+"-unknown",
			"There is no such %s in this institution.", string(says.Kind))
	case row.System != nil:
		return Heard{}, false, &fault.Fault{Kind: fault.Conflict, Code: "record-has-source",
			Detail: "The record came from another source, or under another id of it.", Extra: map[string]any{"record": row.Record}}
	}
	return a.adopt(ctx, says, row)
}

// adoptable is the record without a source that carries exactly one of a new specimen's
// numbers, in its collection or in none; nil if there is none. It is a fault if several records carry them, and one of
// them has no source.
func (a Author) adoptable(ctx context.Context, self uuid.UUID, numbers []NewNumber) (*postgres.Row, error) {
	var carriers []postgres.Numbered
	var ids []uuid.UUID
	met := map[uuid.UUID]bool{}
	for _, n := range numbers {
		for _, k := range n.Carriers() {
			if n.Specimen == self && !met[k.Registered] {
				met[k.Registered], carriers, ids = true, append(carriers, k), append(ids, k.Registered)
			}
		}
	}
	if len(ids) == 0 {
		return nil, nil
	}
	rows, err := a.Store.Newest(ctx, ids...)
	if err != nil {
		return nil, err
	}
	var free *postgres.Row
	for i := range rows {
		if rows[i].System == nil {
			free = &rows[i]
		}
	}
	if free == nil || len(carriers) == 1 && carriers[0].Specimen == free.Record {
		return free, nil
	}
	return nil, &fault.Fault{Kind: fault.Conflict, Code: "source-ambiguous",
		Detail: "This number is carried by a specimen without a source that was merged into another, or by several " +
			"specimens, one of them without a source. Say in record which one it is, or with distinctFrom that it is none.",
		Extra: map[string]any{"candidates": carriers}}
}

// adopt makes a record without a source the source's: it gets a revision that states
// what the source does. If it states anything that the source does not, it stands, and
// the outcome is a conflict, unless the caller has read it.
func (a Author) adopt(ctx context.Context, says Says, row postgres.Row) (Heard, bool, error) {
	if says.Read != nil && !says.Read(row) {
		return Heard{}, false, errChanged
	}
	if err := MustStandAlone(ctx, a.Store, row.Kind, row.Record); err != nil {
		return Heard{}, false, err
	}
	d, err := a.Understand(ctx, row.Kind, row.Record, says.Words)
	if err != nil {
		return Heard{}, false, err
	}
	if says.Read == nil {
		if covers, err := a.covers(ctx, row.Record, d); err != nil || !covers {
			return Heard{Outcome: Conflict, Row: row}, false, err
		}
	}
	return a.hearAnew(ctx, says, row, d, Adopted)
}
