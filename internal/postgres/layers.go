package postgres

import (
	"context"
	"errors"
	"math"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
)

// History is what stands on record about one specimen, and none of it is cut
// off: its statement, its treatments, the supplies and batches that they used,
// what those were made from and what became of them, and the place up to which
// the institution's entries have theirs.
type History struct {
	Specimen   []Row // the revision in force, or nothing
	Treatments []Row
	Shelf      Shelf // what bears on the supplies and batches that they used
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
	return s.HistoriesWithin(ctx, institution, specimens, math.MaxInt)
}

// ErrTooMuch says that histories have more words than were asked for; ask for
// fewer specimens.
var ErrTooMuch = errors.New("the histories are larger than what was asked for")

// HistoriesWithin is HistoriesOf that reads so many bytes of words, and gives
// ErrTooMuch when there are more.
func (s *Store) HistoriesWithin(ctx context.Context, institution uuid.UUID, specimens []uuid.UUID, most int) ([]History, error) {
	histories := make([]History, len(specimens))
	b := newBatchPlannedAnew(institution)
	var places []placeRow
	queue(b, &places, headPlace, institution) // first: what follows is then at least as new
	for i, specimen := range specimens {
		queueHistory(b, specimen, &histories[i], &most)
	}
	err := s.run(ctx, b)
	for i := range histories {
		if len(places) > 0 {
			histories[i].Place = places[0].Seq
		}
	}
	return histories, err
}

func queueHistory(b *batch, specimen uuid.UUID, h *History, most *int) {
	queue(b, &h.Specimen, `
		select `+entryColumns+`, null::bigint as seq
		  from specimen t join entry e on e.institution_id = t.institution_id and e.record_id = t.id and e.revision = t.revision
		 where t.institution_id = $1 and t.id = $2`, b.institution, specimen)
	queueWithin(b, most, func(found []Row) { h.Treatments = found }, `
		select `+entryColumns+`, null::bigint as seq
		  from treatments_on($1, $2) t join entry e on e.institution_id = $1 and e.record_id = t.id and e.revision = t.revision
		 where not t.retracted
		 order by t.id`, b.institution, specimen)
	queueWithin(b, most, func(found []shelfRow) { h.Shelf = shelfFrom(found) }, onShelf(`
		select coalesce(u.batch_id, u.supply_id) from treatments_on($1, $2) t join treatment_use u on u.institution_id = $1 and u.treatment_id = t.id
		 where not t.retracted and num_nonnulls(u.batch_id, u.supply_id) = 1`, nobody), b.institution, specimen)
	var borrowed []Borrowed
	queueInto(b, func(found []Borrowed) { h.Borrowed = byTreatment(found) }, &borrowed, borrowedTreatments, b.institution, specimen)
}

// queueWithin is queueInto that takes the words of its rows from what may be
// read.
func queueWithin[T interface{ size() int }](b *batch, most *int, then func([]T), sql string, args ...any) {
	b.Queue(sql, args...).Query(func(rows pgx.Rows) error {
		found, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (T, error) {
			read, err := pgx.RowToStructByName[T](row)
			if *most -= read.size(); err == nil && *most < 0 {
				err = ErrTooMuch
			}
			return read, err
		})
		then(found)
		return err
	})
}

// size is how many bytes its words have.
func (r Row) size() int {
	if r.Body == nil {
		return 0
	}
	return len(*r.Body)
}

type placeRow struct{ Seq int64 }

const headPlace = `select coalesce((select seq from place where institution_id = $1 order by seq desc limit 1), 0) as seq`
