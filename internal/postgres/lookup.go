package postgres

import (
	"context"
	"time"

	"github.com/google/uuid"

	"meniscus/internal/record"
)

// Numbered is a specimen under one of its numbers, with what is recorded of it.
type Numbered struct {
	Specimen     uuid.UUID  `db:"specimen_id"`
	Kind         string     `db:"kind"`
	Number       string     `db:"value"`
	Collection   *string    `db:"collection"`
	Treatments   int64      `db:"treatments"`
	LastRecorded *time.Time `db:"last_recorded"`
}

// numbered selects specimens under their numbers; the caller adds the condition.
const numbered = `
	select i.specimen_id, i.kind, i.value, i.collection, count(t.id) as treatments, max(e.recorded_at) as last_recorded
	  from specimen_identifier i
	  join specimen s on s.id = i.specimen_id and s.institution_id = i.institution_id and not s.retracted
	  left join treatment t on t.institution_id = i.institution_id and t.specimen_id = i.specimen_id and not t.retracted
	  left join entry e on e.institution_id = t.institution_id and e.record_id = t.id and e.revision = t.revision
	 where i.institution_id = $1 and `

const numberedGroup = ` group by i.specimen_id, i.position, i.kind, i.value, i.collection order by i.value, i.specimen_id limit 200`

// ByNumber gives the specimens that carry exactly this number.
func (s *Store) ByNumber(ctx context.Context, institution uuid.UUID, number string) ([]Numbered, error) {
	return collect[Numbered](ctx, s, institution, numbered+`i.value = $2`+numberedGroup, institution, number)
}

// NearNumbers gives specimens whose numbers may be another spelling of this one:
// those that fold alike, and those whose folded form begins alike. The caller
// ranks them. The prefix is compared with ^@, which is leakproof, so that the
// wall does not keep it from the index.
func (s *Store) NearNumbers(ctx context.Context, institution uuid.UUID, number string) ([]Numbered, error) {
	folded := record.Fold(number)
	runes := []rune(folded)
	prefix := string(runes[:max(len(runes)-2, min(len(runes), 2))])
	return collect[Numbered](ctx, s, institution, numbered+`(i.folded = $2 or i.folded ^@ $3)`+numberedGroup, institution, folded, prefix)
}
