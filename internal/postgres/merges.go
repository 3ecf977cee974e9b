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
	MergedInto *uuid.UUID `db:"merged_into"` // the record that it was merged into, or nil
	Parent     *uuid.UUID `db:"parent_id"`
	PartAreas  []string   `db:"part_areas"` // nil unless it is a part
}

// StandingOf gives where specimens' records stand; those that are not here are
// left out.
func (s Tenant) StandingOf(ctx context.Context, specimens []uuid.UUID) (map[uuid.UUID]Standing, error) {
	rows, err := collect[Standing](ctx, s, `
		select id, retracted, merged_into, parent_id, part_areas from specimen where institution_id = $1 and id = any($2)`,
		s.institution, specimens)
	found := make(map[uuid.UUID]Standing, len(rows))
	for _, r := range rows {
		found[r.ID] = r
	}
	return found, err
}

// MostGenerations is how far the origin of a sample or a part is followed.
const MostGenerations = 1000

// OriginsOf gives a specimen and those that it came from, each once, the nearest
// first: MostGenerations of them, and one more where there are more.
func (s Tenant) OriginsOf(ctx context.Context, specimen uuid.UUID) ([]Standing, error) {
	return collect[Standing](ctx, s, `
		with recursive up(id, retracted, merged_into, parent_id, part_areas) as (
			select id, retracted, merged_into, parent_id, part_areas from specimen where institution_id = $1 and id = $2
			union
			select s.id, s.retracted, s.merged_into, s.parent_id, s.part_areas from up
			  join specimen s on s.institution_id = $1 and s.id = up.parent_id
		) select * from up limit $3`, s.institution, specimen, MostGenerations+1)
}

// Survivor gives the record that stands for a specimen: its own, unless it was merged.
func (s Tenant) Survivor(ctx context.Context, specimen uuid.UUID) (uuid.UUID, error) {
	rows, err := collect[idRow](ctx, s, `select survivor_of($1, $2) as id`, s.institution, specimen)
	if err != nil {
		return uuid.Nil, err
	}
	return rows[0].ID, nil
}

// errNoSurvivor refuses a merge into a record that does not stand.
var errNoSurvivor = fault.Of(fault.Conflict, "survivor-gone",
	"The other record was merged or retracted meanwhile; read it again and decide.")

// Merge projects that the specimen was merged into another. When the other does not
// stand any more, the whole write is refused (errNoSurvivor).
func (p *Projector) Merge(into uuid.UUID) {
	p.batch.Queue(`select check_merge($1, $2, $3)`, p.batch.institution, p.record, into)
	p.Merged(into)
}

// Unmerge projects that the specimen's record stands for itself again.
func (p *Projector) Unmerge() { p.Merged(uuid.Nil) }

// Merged projects which record the specimen was merged into, or that it stands for
// itself.
func (p *Projector) Merged(into uuid.UUID) {
	p.Went(into)
	p.stood()
}

// Went is Merged without storing it as the standing of this revision: the statement
// that follows says whether the specimen is a part.
func (p *Projector) Went(into uuid.UUID) {
	p.batch.Queue(`update specimen set merged_into = $3, revision = $4 where institution_id = $1 and id = $2`,
		p.batch.institution, p.record, refOrNull(into), p.revision)
}

// stood stores where the specimen's record stands at this revision, unless it stands
// for itself and is no part.
func (p *Projector) stood() {
	p.batch.Queue(`
		insert into specimen_stood
		select institution_id, id, revision, merged_into, parent_id, part_areas, split_earliest, split_latest, split_recorded
		  from specimen where institution_id = $1 and id = $2 and (merged_into is not null or part_areas is not null)
		on conflict do nothing`, p.batch.institution, p.record)
}
