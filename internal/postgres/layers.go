package postgres

import (
	"context"
	"errors"
	"fmt"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
)

// History is what stands on record about one specimen, complete: its statement, its
// treatments, the supplies and batches that they used, what those were made from and
// what became of them, and the institution's last sequence number.
type History struct {
	Specimen   []Row // the revision in force, or nothing
	Family     []Kin // the other records that tell of it
	Treatments []Row
	Clues      []Clue // what may make a hazard suspected
	Shelf      Shelf  // what bears on the supplies and batches that they used
	Borrowed   map[uuid.UUID]Borrowed
	Sequence   int64
	// BodyTraits are the traits of the collection's default body: JSON, or empty.
	BodyTraits string
}

// Borrowed is a treatment of a specimen that was stated about another record.
type Borrowed struct {
	Treatment uuid.UUID `db:"id"`
	From      uuid.UUID `db:"stated_about"`
	Because   string    `db:"because"` // merged, or split
	Certain   bool      `db:"certain"` // of a split: the treatment was certainly before the split
	Within    []string  `db:"within"`  // of a split: the areas that went; none where they are not known
}

// ErrTooMuch says that histories have more words than were asked for; ask for
// fewer specimens.
var ErrTooMuch = errors.New("the histories are larger than what was asked for")

// HistoriesWithin reads the histories of specimens, in their order, with at most so many
// bytes of words; ErrTooMuch when there are more. A few statements read the records of all
// specimens together, and a few more what each set of supplies and batches that they used
// was made from.
func (s Tenant) HistoriesWithin(ctx context.Context, specimens []uuid.UUID, most int) ([]History, error) {
	histories := make([]History, len(specimens))
	by := make(map[uuid.UUID]*History, len(specimens))
	for i, id := range specimens {
		histories[i].Borrowed = map[uuid.UUID]Borrowed{}
		by[id] = &histories[i]
	}
	var sequences []sequenceRow
	var used []usedStock
	b := newBatchPlannedAnew(s.institution)
	queue(b, &sequences, headSequence, s.institution) // first: what follows is then at least as new
	queueRecords(b, specimens, by, &most)
	queueClues(b, specimens, by, &most)
	queue(b, &used, `
		`+treatmentsOnEach+`select t.specimen, array_agg(distinct coalesce(u.batch_id, u.supply_id)) as stock
		  from on_each t join treatment_use u on u.institution_id = $1 and u.treatment_id = t.id
		 where num_nonnulls(u.batch_id, u.supply_id) = 1 group by t.specimen`, s.institution, specimens)
	if err := s.run(ctx, b); err != nil {
		return histories, err
	}
	for i := range histories {
		histories[i].Sequence = sequences[0].Seq
	}
	err := s.shelvesOf(ctx, used, by, &most)
	for i, id := range specimens {
		histories[i] = *by[id] // the same where one was named twice
	}
	return histories, err
}

// usedStock is the supplies and batches that the treatments on a specimen used.
type usedStock struct {
	Specimen uuid.UUID   `db:"specimen"`
	Stock    []uuid.UUID `db:"stock"`
}

// historyRow is a row of one specimen's history.
type historyRow struct {
	Row
	Of uuid.UUID `db:"of"`
}

// bodyRow is what the collection's default says of a specimen's body.
type bodyRow struct {
	Of     uuid.UUID `db:"of"`
	Traits string    `db:"traits"`
}

type borrowedRow struct {
	Borrowed
	Of uuid.UUID `db:"of"`
}

// queueRecords reads the statements of specimens and of the treatments on them.
func queueRecords(b *batch, specimens []uuid.UUID, by map[uuid.UUID]*History, most *int) {
	queueWithin(b, most, func(found []historyRow) {
		for _, r := range found {
			by[r.Of].Specimen = []Row{r.Row}
		}
	}, `
		select t.id as of, `+entryColumns+`, null::bigint as seq
		  from specimen t join entry e on e.institution_id = t.institution_id and e.record_id = t.id
		   and e.revision = t.revision
		 where t.institution_id = $1 and t.id = any($2)`, b.institution, specimens)
	queueInto(b, func(found []bodyRow) {
		for _, r := range found {
			by[r.Of].BodyTraits = r.Traits
		}
	}, new([]bodyRow), `
		select t.id as of, c.traits from specimen t
		 cross join lateral (select traits from collection_body c where c.institution_id = t.institution_id
		                        and c.collection = t.collection order by c.id desc limit 1) c
		 where t.institution_id = $1 and t.id = any($2)`, b.institution, specimens)
	queueWithin(b, most, func(found []kinRow) {
		for _, r := range found {
			by[r.Of].Family = append(by[r.Of].Family, r.Kin)
		}
	}, familiesOf, b.institution, specimens)
	queueWithin(b, most, func(found []historyRow) {
		for _, r := range found {
			by[r.Of].Treatments = append(by[r.Of].Treatments, r.Row)
		}
	}, `
		`+treatmentsOnEach+`select t.specimen as of, `+entryColumns+`, null::bigint as seq
		  from on_each t join entry e on e.institution_id = $1 and e.record_id = t.id and e.revision = t.revision
		 order by t.specimen, t.id`, b.institution, specimens)
	queueInto(b, func(found []borrowedRow) {
		for _, r := range found {
			by[r.Of].Borrowed[r.Treatment] = r.Borrowed
		}
	}, new([]borrowedRow), `
		`+treatmentsOnEach+`select t.specimen as of, t.id, t.stated_about, t.because, t.certain, t.within from on_each t
		 where t.because is not null`, b.institution, specimens)
}

// treatmentsOnEach is the treatments of several specimens that are not retracted, each
// with its specimen. They are materialized, so that they are found once for each
// specimen: otherwise Postgres may find them again for each row of another table in
// which it expects few rows.
const treatmentsOnEach = `with on_each as materialized (
			select x.id as specimen, t.* from (select distinct unnest($2::uuid[]) as id) x
			 cross join lateral treatments_on($1, x.id) t where not t.retracted)
		`

// shelvesOf reads what bears on the stock that specimens used; those that used
// the same share what is read.
func (s Tenant) shelvesOf(ctx context.Context, used []usedStock, by map[uuid.UUID]*History, most *int) error {
	same := map[string][]uuid.UUID{}
	b := newBatchPlannedAnew(s.institution)
	for _, u := range used {
		key := fmt.Sprint(u.Stock) // a stable key: distinct has sorted the ids
		same[key] = append(same[key], u.Specimen)
		if len(same[key]) > 1 {
			continue
		}
		queueWithin(b, most, func(found []shelfRow) {
			shelf := shelfFrom(found)
			for _, specimen := range same[key] {
				by[specimen].Shelf = shelf
			}
		}, onShelf(`select unnest($2::uuid[])`, nobody), s.institution, u.Stock)
	}
	if len(used) == 0 {
		return nil
	}
	return s.run(ctx, b)
}

// queueWithin is queueInto that subtracts the words of its rows from most, the bytes
// that may still be read.
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

type sequenceRow struct{ Seq int64 }

const headSequence = `select coalesce((select seq from sequenced where institution_id = $1 order by seq desc limit 1),
                                   0) as seq`
