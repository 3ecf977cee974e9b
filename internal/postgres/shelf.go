package postgres

import (
	"context"
	"strconv"

	"github.com/google/uuid"
)

// Shelf is every entry in force that affects what batches hold and how much is left of
// them, up to a limit.
type Shelf struct {
	Made       []Row // the batches themselves, and the batches and supplies that they were made from
	Changes    []Row // what became of them
	Taken      []Row // batches that were made from them
	Treatments []Row // treatments that used them
	// MoreMade is how many supplies and batches were not read, and MoreEntries how many
	// entries of the other kinds.
	MoreMade, MoreEntries int
}

// Limits of what is read about what batches were made from and what became of them. The
// nearest is read first.
const (
	MostStock   = 5_000            // supplies and batches
	mostEntries = 20_000           // entries about them, including their own
	mostBytes   = 32 * 1024 * 1024 // of their words
)

// The parts of a shelf, as its query names them.
const (
	partMade      = "made"
	partChange    = "change"
	partTaken     = "taken"
	partTreatment = "treatment"
)

type shelfRow struct {
	Row
	Part    string `db:"part"`
	Climbed int    `db:"climbed"` // how many supplies and batches were found
	Found   int    `db:"found"`   // how many rows there are in all
	Made    int    `db:"made"`    // how many of them are of supplies and batches
}

// ShelfOf gathers the entries about batches and all that they were made from or topped
// up with, in one round trip: everything that became of these batches, and what affects
// the strength of the others.
func (s Tenant) ShelfOf(ctx context.Context, batches []uuid.UUID) (Shelf, error) {
	return s.collectShelf(ctx, onShelf(`select unnest($2::uuid[])`, `select unnest($2::uuid[])`), batches)
}

// ShelfBehind gathers only what affects the contents and strength of supplies and
// batches.
func (s Tenant) ShelfBehind(ctx context.Context, stock []uuid.UUID) (Shelf, error) {
	return s.collectShelf(ctx, onShelf(`select unnest($2::uuid[])`, nobody), stock)
}

func (s Tenant) collectShelf(ctx context.Context, sql string, args ...any) (Shelf, error) {
	rows, err := collect[shelfRow](ctx, s, sql, append([]any{s.institution}, args...)...)
	return shelfFrom(rows), err
}

func shelfFrom(rows []shelfRow) Shelf {
	var d Shelf
	part := map[string]*[]Row{partMade: &d.Made, partChange: &d.Changes, partTaken: &d.Taken, partTreatment: &d.Treatments}
	for _, row := range rows {
		*part[row.Part] = append(*part[row.Part], row.Row)
	}
	if len(rows) > 0 {
		first := rows[0]
		d.MoreMade = max(0, first.Climbed-MostStock) + first.Made - len(d.Made)
		d.MoreEntries = first.Found - first.Made - (len(rows) - len(d.Made))
	}
	return d
}

const nobody = `select null::uuid where false`

// changesStrength are the changes after which a batch may have another strength;
// stock has the same list.
const changesStrength = `('evaporated', 'topped-up', 'corrected-by-weighing')`

// onShelf is the statement that gathers a shelf, starting from the supplies and batches
// that the query seed gives. It follows what they were made from or topped up with;
// UNION takes each once and so ends cycles. Uses and withdrawals are gathered for the
// batches that the query counted gives, and for those that changed in strength: no
// other strength depends on them.
func onShelf(seed, counted string) string {
	return climbing(seed) + `, counted(id) as (
		` + counted + `
		union
		select up.id from up where exists (
			select from amount_change c where c.institution_id = $1 and c.batch_id = up.id
			   and not c.retracted and c.kind in ` + changesStrength + `)
	), wanted(part, id, revision) as (
		select '` + partMade + `', b.id, b.revision from up join batch b on b.institution_id = $1 and b.id = up.id
		union
		select '` + partMade + `', s.id, s.revision from up join supply s on s.institution_id = $1 and s.id = up.id
		union
		select '` + partChange + `', c.id, c.revision from counted
			join amount_change c on c.institution_id = $1 and c.batch_id = counted.id where not c.retracted
		union
		select '` + partChange + `', c.id, c.revision from counted
			join amount_change c on c.institution_id = $1 and c.with_batch_id = counted.id where not c.retracted
		union
		select '` + partTaken + `', t.id, t.revision from counted
			join batch_input i on i.institution_id = $1 and i.from_batch_id = counted.id
		  join batch t on t.institution_id = $1 and t.id = i.batch_id where not t.retracted
		union
		select '` + partTreatment + `', t.id, t.revision from counted
			join treatment_use u on u.institution_id = $1 and u.batch_id = counted.id
		  join treatment t on t.institution_id = $1 and t.id = u.treatment_id where not t.retracted
	), sized as (
		select w.part, w.id, w.revision, count(*) over () as found,
			count(*) filter (where w.part = '` + partMade + `') over () as made,
		       row_number() over inOrder as nth, sum(octet_length(e.body)) over inOrder as bytes
		  from wanted w
		 cross join lateral (select body from entry where institution_id = $1 and record_id = w.id
		                        and revision = w.revision offset 0) e
		window inOrder as (order by w.part <> '` + partMade + `', w.id, w.part)
	)
	select w.part, w.found, w.made, (select count(*) from climb) as climbed, ` + entryColumns + `, p.seq
	  from sized w
	 cross join lateral (select * from entry where institution_id = $1 and record_id = w.id
	                        and revision = w.revision offset 0) e
	  left join sequenced p on p.institution_id = e.institution_id and p.entry_id = e.id
	 where w.nth <= ` + strconv.Itoa(mostEntries) + ` and coalesce(w.bytes, 0) <= ` + strconv.Itoa(mostBytes) + `
	 order by e.id`
}
