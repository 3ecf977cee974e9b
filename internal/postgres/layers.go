package postgres

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"time"

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

	hasRecords bool // that others were merged into it, or that it came from others
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
	used := map[uuid.UUID][]uuid.UUID{}
	b := newBatchPlannedAnew(s.institution)
	queue(b, &sequences, headSequence, s.institution) // first: what follows is then at least as new
	queueRecords(b, specimens, by, &most)
	queueClues(b, specimens, by, &most)
	queueTreatments(b, specimens, by, used, &most)
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

// queueRecords reads the statements of specimens and of their kin.
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
}

// treatmentRow is a treatment on a specimen, with what it used and was named in that.
type treatmentRow struct {
	historyRow
	From     uuid.UUID   `db:"stated_about"`
	Because  *string     `db:"because"`
	Certain  bool        `db:"certain"`
	Within   []string    `db:"within"`
	Earliest *time.Time  `db:"earliest"`
	Stock    []uuid.UUID `db:"stock"` // the supplies and batches that it used
	Named    []string    `db:"named"`
	Telling  bool        `db:"telling"` // it is a clue whatever its words are
}

// queueTreatments reads the treatments on specimens, and what each of them used. They are
// found once: whether one is borrowed, what it used and whether it is a clue come with it.
func queueTreatments(
	b *batch, specimens []uuid.UUID, by map[uuid.UUID]*History, used map[uuid.UUID][]uuid.UUID, most *int,
) {
	pattern, materials := hazardous()
	queueWithin(b, most, func(found []treatmentRow) {
		for _, r := range found {
			h := by[r.Of]
			h.Treatments = append(h.Treatments, r.Row)
			used[r.Of] = append(used[r.Of], r.Stock...)
			if r.Because != nil {
				h.Borrowed[r.Record] = Borrowed{Treatment: r.Record, From: r.From, Because: *r.Because, Certain: r.Certain,
					Within: r.Within}
			}
		}
		ownClues(found, by)
	}, `
		`+treatmentsOnEach+`, on_record as (
			select id from on_each
		), `+namesBehind+`, hinted as materialized (
			select n.of, array_agg(n.name) as named, bool_or(y.name is not null) as telling
			  from named n left join telling y on y.name = n.name group by n.of
		)
		select t.specimen as of, `+entryColumns+`, null::bigint as seq, t.stated_about, t.because, t.certain, t.within,
		       t.earliest, coalesce(h.named, '{}') as named,
		       coalesce(h.telling, false) or coalesce(d.action, '') = 'pest-treatment' as telling,
		       array(select distinct coalesce(u.batch_id, u.supply_id) from treatment_use u
		              where u.institution_id = $1 and u.treatment_id = t.id
		                and num_nonnulls(u.batch_id, u.supply_id) = 1) as stock
		  from on_each t
		 cross join lateral (select action from treatment where institution_id = $1 and id = t.id offset 0) d
		 cross join lateral (select * from entry where institution_id = $1 and record_id = t.id
		                        and revision = t.revision offset 0) e
		  left join hinted h on h.of = t.id
		 order by t.specimen, t.id`, b.institution, specimens, pattern, materials)
}

// treatmentsOnEach is the treatments of several specimens that are not retracted, each
// with its specimen. They are materialized, so that they are found once for each
// specimen: otherwise Postgres may find them again for each row of another table in
// which it expects few rows.
var treatmentsOnEach = `with on_each as materialized (
			select x.id as specimen, t.* from (select distinct unnest($2::uuid[]) as id) x
			 cross join lateral ` + treatmentsOn("x.id") + ` t)
		`

// treatmentsOn is the treatments of a specimen that are not retracted. The function that
// knows what merges and parts mean is called for specimens that have some, and no others:
// the call costs more than the look-up.
func treatmentsOn(id string) string {
	own := `select id, revision, retracted, earliest, specimen_id, joined_to_id from treatment
				         where institution_id = $1 and `
	return `(
			select o.id, o.revision, o.earliest, o.stated_about, o.because, o.certain, o.within from (
				select exists (select from specimen s where s.institution_id = $1 and s.merged_into = ` + id + ` offset 0)
				    or exists (select from specimen s where s.institution_id = $1 and s.id = ` + id + `
				                  and s.part_areas is not null offset 0) as met offset 0) k
			 cross join lateral (
				select u.id, u.revision, u.retracted, u.earliest, ` + id + ` as stated_about, null::text as because,
				       true as certain, null::text[] as within
				  from (` + own + `specimen_id = ` + id + ` and not k.met
				        union
				        ` + own + `joined_to_id = ` + id + ` and not k.met) u
				union all
				select t.id, t.revision, t.retracted, t.earliest, t.stated_about, t.because, t.certain, t.within
				  from treatments_on($1, ` + id + `) t where k.met offset 0) o
			 where not o.retracted)`
}

// shelvesOf reads what bears on the stock that specimens used, in one statement; those that
// used the same share what is read.
func (s Tenant) shelvesOf(
	ctx context.Context, used map[uuid.UUID][]uuid.UUID, by map[uuid.UUID]*History, most *int,
) error {
	same := map[string]int32{}
	var sharing [][]uuid.UUID // specimens that used the same
	var nth []int32
	var stock []uuid.UUID
	for _, specimen := range slices.SortedFunc(maps.Keys(used), compareIDs) {
		ids := slices.Compact(slices.SortedFunc(slices.Values(used[specimen]), compareIDs))
		if len(ids) == 0 {
			continue
		}
		key := fmt.Sprint(ids)
		set, known := same[key]
		if !known {
			set = int32(len(sharing))
			same[key], sharing = set, append(sharing, nil)
			for _, id := range ids {
				nth, stock = append(nth, set), append(stock, id)
			}
		}
		sharing[set] = append(sharing[set], specimen)
	}
	if len(stock) == 0 {
		return nil
	}
	b := newBatchPlannedAnew(s.institution)
	queueWithin(b, most, func(found []shelfOfRow) {
		rows := map[int32][]shelfRow{}
		for _, r := range found {
			rows[r.Nth] = append(rows[r.Nth], r.shelfRow)
		}
		for set, specimens := range sharing {
			for _, specimen := range specimens {
				by[specimen].Shelf = shelfFrom(rows[int32(set)])
			}
		}
	}, `
		select x.nth, s.* from (
			select nth, array_agg(id) as stock from unnest($2::int[], $3::uuid[]) as a(nth, id) group by nth) x
		 cross join lateral (`+onShelf(`select unnest(x.stock)`, nobody)+`) s
		 order by x.nth, s.id`, s.institution, nth, stock)
	return s.run(ctx, b)
}

// shelfOfRow is a row of one set of supplies and batches.
type shelfOfRow struct {
	shelfRow
	Nth int32 `db:"nth"`
}

func compareIDs(a, b uuid.UUID) int { return slices.Compare(a[:], b[:]) }

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
