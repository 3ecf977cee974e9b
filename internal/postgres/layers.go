package postgres

import (
	"context"

	"github.com/google/uuid"
)

// MaxHistory is how many treatments of one specimen are read at once.
const MaxHistory = 20_000

// History is what stands on record about one specimen: its statement, its
// treatments, the supplies and batches that they used and what those were made
// from, and the place up to which the institution's entries have theirs.
type History struct {
	Specimen   []Row // the revision in force, or nothing
	Treatments []Row
	Stock      []Row
	Borrowed   map[uuid.UUID]Borrowed
	Place      int64
}

// Borrowed is a treatment of a specimen that was stated about another record.
type Borrowed struct {
	Treatment uuid.UUID `db:"id"`
	From      uuid.UUID `db:"stated_about"`
	Because   string    `db:"because"` // merged, or split
	Certain   bool      `db:"certain"` // of a split: it was certainly before it
	Within    []string  `db:"within"`  // of a split: the areas that went; none where they are not known
}

const borrowedTreatments = `select id, stated_about, because, certain, within from treatments_on($1, $2) where because is not null and not retracted`

func byTreatment(list []Borrowed) map[uuid.UUID]Borrowed {
	by := make(map[uuid.UUID]Borrowed, len(list))
	for _, b := range list {
		by[b.Treatment] = b
	}
	return by
}

// HistoryOf reads a specimen's history.
func (s *Store) HistoryOf(ctx context.Context, institution, specimen uuid.UUID) (History, error) {
	histories, err := s.HistoriesOf(ctx, institution, []uuid.UUID{specimen})
	return histories[0], err
}

// HistoriesOf reads the histories of specimens, in their order, in one batch.
func (s *Store) HistoriesOf(ctx context.Context, institution uuid.UUID, specimens []uuid.UUID) ([]History, error) {
	histories := make([]History, len(specimens))
	b := newBatchPlannedAnew(institution)
	var places []placeRow
	queue(b, &places, headPlace, institution) // first: what follows is then at least as new
	for i, specimen := range specimens {
		queueHistory(b, specimen, &histories[i])
	}
	err := s.run(ctx, b)
	for i := range histories {
		if len(places) > 0 {
			histories[i].Place = places[0].Seq
		}
	}
	return histories, err
}

func queueHistory(b *batch, specimen uuid.UUID, h *History) {
	queue(b, &h.Specimen, `
		select `+entryColumns+`, null::bigint as seq
		  from specimen t join entry e on e.institution_id = t.institution_id and e.record_id = t.id and e.revision = t.revision
		 where t.institution_id = $1 and t.id = $2`, b.institution, specimen)
	queue(b, &h.Treatments, `
		select `+entryColumns+`, null::bigint as seq
		  from treatments_on($1, $2) t join entry e on e.institution_id = $1 and e.record_id = t.id and e.revision = t.revision
		 where not t.retracted
		 order by t.id limit $3`, b.institution, specimen, MaxHistory)
	queue(b, &h.Stock, stockBehind(`
		select u.batch_id, u.supply_id from treatments_on($1, $2) t join treatment_use u on u.institution_id = $1 and u.treatment_id = t.id
		 where not t.retracted`), b.institution, specimen)
	var borrowed []Borrowed
	queueInto(b, func(found []Borrowed) { h.Borrowed = byTreatment(found) }, &borrowed, borrowedTreatments, b.institution, specimen)
}

// StockBehind reads supplies and batches and what they were made from.
func (s *Store) StockBehind(ctx context.Context, institution uuid.UUID, batches, supplies []uuid.UUID) ([]Row, error) {
	return collect[Row](ctx, s, institution, stockBehind(`
		select unnest($2::uuid[]) as batch_id, null::uuid as supply_id
		union all
		select null::uuid, unnest($3::uuid[])`), institution, batches, supplies)
}

type placeRow struct{ Seq int64 }

const headPlace = `select coalesce((select seq from place where institution_id = $1 order by seq desc limit 1), 0) as seq`

// stockBehind is the statement that follows the batches and supplies of a query
// upstream, to any depth; UNION ends a circle. Rows are the revisions in force.
func stockBehind(used string) string {
	return `
	with recursive used(batch_id, supply_id) as (` + used + `),
	up(id, kind) as (
		select batch_id, 'batch' from used where batch_id is not null
		union
		select supply_id, 'supply' from used where supply_id is not null
		union
		select coalesce(i.from_batch_id, i.supply_id), case when i.supply_id is null then 'batch' else 'supply' end
		  from up join batch_input i on i.institution_id = $1 and i.batch_id = up.id and up.kind = 'batch'
		 where num_nonnulls(i.from_batch_id, i.supply_id) = 1
	), forced(id, revision) as (
		select b.id, b.revision from up join batch b on b.institution_id = $1 and b.id = up.id and up.kind = 'batch'
		union
		select y.id, y.revision from up join supply y on y.institution_id = $1 and y.id = up.id and up.kind = 'supply'
	)
	select ` + entryColumns + `, null::bigint as seq
	  from forced f join entry e on e.institution_id = $1 and e.record_id = f.id and e.revision = f.revision
	 order by e.record_id limit 50000`
}
