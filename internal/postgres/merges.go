package postgres

import (
	"context"

	"github.com/google/uuid"

	"meniscus/internal/fault"
)

// Standing is where a specimen's record stands.
type Standing struct {
	ID         uuid.UUID  `db:"id"`
	Retracted  bool       `db:"retracted"`
	MergedInto *uuid.UUID `db:"merged_into"` // where it went, or nil
	Parent     *uuid.UUID `db:"parent_id"`
	PartAreas  []string   `db:"part_areas"` // nil unless it is a part
}

// StandingOf gives where specimens' records stand; those that are not here are
// left out.
func (s *Store) StandingOf(ctx context.Context, institution uuid.UUID, specimens []uuid.UUID) (map[uuid.UUID]Standing, error) {
	rows, err := collect[Standing](ctx, s, institution, `
		select id, retracted, merged_into, parent_id, part_areas from specimen where institution_id = $1 and id = any($2)`, institution, specimens)
	found := make(map[uuid.UUID]Standing, len(rows))
	for _, r := range rows {
		found[r.ID] = r
	}
	return found, err
}

// ErrNoSurvivor refuses a merge into a record that does not stand.
var ErrNoSurvivor = fault.Of(fault.Conflict, "survivor-gone", "The other record was merged or retracted meanwhile; read it again and decide.")

// Merge says that the specimen's record is another's. When the other does not
// stand any more, the whole write is refused (ErrNoSurvivor).
func (p *Projector) Merge(into uuid.UUID) {
	p.batch.Queue(`select check_merge($1, $2, $3)`, p.batch.institution, p.record, into)
	p.batch.Queue(`update specimen set merged_into = $3, revision = $4 where institution_id = $1 and id = $2`,
		p.batch.institution, p.record, into, p.revision)
}

// Unmerge says that the specimen's record stands for itself again.
func (p *Projector) Unmerge() {
	p.batch.Queue(`update specimen set merged_into = null, revision = $3 where institution_id = $1 and id = $2`,
		p.batch.institution, p.record, p.revision)
}

// SpecimensUnder gives the samples and parts of a specimen and of the records
// that were merged into it, in the order of their ids, after an id.
func (s *Store) SpecimensUnder(ctx context.Context, institution, parent, after uuid.UUID, limit int) ([]Row, error) {
	return collect[Row](ctx, s, institution, `
		with recursive family(id) as (
			select $2::uuid
			union
			select m.id from family f join specimen m on m.institution_id = $1 and m.merged_into = f.id)
		select `+entryColumns+`, null::bigint as seq
		  from family f
		  join specimen t on t.institution_id = $1 and t.parent_id = f.id
		  join entry e on e.institution_id = t.institution_id and e.record_id = t.id and e.revision = t.revision
		 where not t.retracted and t.id > $3
		 order by t.id limit $4`, institution, parent, after, limit)
}
