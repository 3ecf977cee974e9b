package postgres

import (
	"cmp"
	"context"
	"slices"
	"sync"
	"time"

	"github.com/google/uuid"

	"meniscus/internal/material"
)

// Clue is a treatment whose words may make a hazard of a specimen suspected: a pest
// treatment, or one that says such a word; with the materials and words of what it used
// and of what that was made from. Its words tell whether they mean a hazard.
type Clue struct {
	Row
	Named []string `db:"named"`
}

type clueRow struct {
	Clue
	Of uuid.UUID `db:"of"`
}

// mostClues is how many clues are read of one specimen, the earliest first.
const mostClues = 100

// hazardous are the pattern of words that mean a hazard, and the built-in materials whose
// names do.
var hazardous = sync.OnceValues(func() (pattern string, materials []string) {
	b := material.Builtin()
	return b.HazardPattern(), b.HazardousMaterials()
})

// namesBehind are the materials and words of what the treatments of on_record used and of
// what that was made from, and those of them that mean a hazard. Each stock and each name
// is looked at once, however many treatments share it.
const namesBehind = `
	source as materialized (
		with recursive stock(of, batch, supply, step) as (
			select distinct u.treatment_id, u.batch_id, u.supply_id, 0
			  from (select distinct id from on_record) o
			 cross join lateral (select * from treatment_use where institution_id = $1 and treatment_id = o.id offset 0) u
			 where num_nonnulls(u.batch_id, u.supply_id) = 1
			union
			select s.of, i.from_batch_id, i.supply_id, s.step + 1
			  from stock s
			 cross join lateral (select * from batch_input where institution_id = $1 and batch_id = s.batch offset 0) i
			 where s.step < 4 and num_nonnulls(i.from_batch_id, i.supply_id) = 1)
		select * from stock
	), named as materialized (
		select x.of, x.name from (
			select o.id as of, u.material_id as name
			  from (select distinct id from on_record) o
			 cross join lateral (select * from treatment_use where institution_id = $1 and treatment_id = o.id offset 0) u
			union
			select s.of, y.material_id from source s
			 cross join lateral (select * from supply where institution_id = $1 and id = s.supply offset 0) y
			union
			select s.of, coalesce(i.material_id, i.words) from source s
			 cross join lateral (select * from batch_input where institution_id = $1 and batch_id = s.batch offset 0) i) x
		 where x.name is not null
	), telling as materialized (
		select w.name from (select distinct name from named) w
		 where w.name = any($4) or w.name ~* $3
		    or exists (select from material m join entry e on e.institution_id = $1 and e.record_id = m.id
		                                                   and e.revision = m.revision
		                where m.institution_id = $1
		                  and m.id = case when w.name ~ '^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$' then w.name::uuid end
		                  and (m.like_id = any($4) or e.body ~* $3)))`

// cluesOf reads the clues of specimens that were asked for as $2: of the treatments on
// them, and of those on the specimens that they came from, as a part or a sample.
var cluesOf = cluesFor(`select distinct unnest($2::uuid[]) as id`)

func cluesFor(specimens string) string {
	return `
	with records as materialized (
		select x.id as of, r.id as record from (` + specimens + `) x
		 cross join lateral (
			with recursive family(id, because) as (
				select x.id, ''
				union
				select n.* from family f cross join lateral (
					select s.parent_id, 'origin' from specimen s
					 where s.institution_id = $1 and s.id = f.id and s.parent_id is not null
					union all
					select s.merged_into, 'origin' from specimen s
					 where s.institution_id = $1 and s.id = f.id and f.because = 'origin' and s.merged_into is not null
					union all
					select s.id, case f.because when '' then 'merged' else f.because end
					  from specimen s where s.institution_id = $1 and s.merged_into = f.id
				) n)
			select id from family where because <> 'merged') r
	), on_record as materialized (
		select distinct on (r.of, t.id) r.of, t.id, t.revision, t.earliest
		  from records r cross join lateral ` + treatmentsOn("r.record") + ` t
		 order by r.of, t.id
	), ` + namesBehind + `
	, clue as (
		select o.of, o.id, o.revision,
		       row_number() over (partition by o.of order by o.earliest nulls last, o.id) as nth
		  from on_record o
		 cross join lateral (select * from treatment where institution_id = $1 and id = o.id offset 0) t
		 cross join lateral (select * from entry where institution_id = $1 and record_id = o.id
		                        and revision = o.revision offset 0) e
		 where t.action = 'pest-treatment' or e.body ~* $3
		    or o.id in (select n.of from named n join telling using (name))
	)
	select c.of, ` + entryColumns + `, null::bigint as seq,
	       array(select name from named n where n.of = c.id) as named
	  from clue c
	 cross join lateral (select * from entry where institution_id = $1 and record_id = c.id
	                        and revision = c.revision offset 0) e
	 where c.nth <= $5 order by c.of, c.nth`
}

// CluesOf gives, for each of the specimens, the treatments whose words may make a hazard
// suspected.
func (s Tenant) CluesOf(ctx context.Context, specimens []uuid.UUID) (map[uuid.UUID][]Clue, error) {
	pattern, materials := hazardous()
	rows, err := collectByIndex[clueRow](ctx, s, cluesOf, s.institution, specimens, pattern, materials, mostClues)
	found := map[uuid.UUID][]Clue{}
	for _, r := range rows {
		found[r.Of] = append(found[r.Of], r.Clue)
	}
	return found, err
}

// withRecords are those of the specimens $2 that came from others, or that others were merged
// into.
const withRecords = `select distinct a.id from unnest($2::uuid[]) as a(id)
	 where exists (select from specimen s where s.institution_id = $1 and s.id = a.id and s.parent_id is not null)
	    or exists (select from specimen s where s.institution_id = $1 and s.merged_into = a.id)`

var cluesWithRecords = cluesFor(withRecords)

// queueClues reads the clues of specimens whose own treatments are not all that may tell. The
// clues of the others are found in the words that a history has anyway (ownClues): to match
// them there takes a twentieth of the time.
func queueClues(b *batch, specimens []uuid.UUID, by map[uuid.UUID]*History, most *int) {
	var ids []idRow
	queueInto(b, func(found []idRow) {
		for _, r := range found {
			by[r.ID].hasRecords = true
		}
	}, &ids, withRecords, b.institution, specimens)
	pattern, materials := hazardous()
	queueWithin(b, most, func(found []clueRow) {
		for _, r := range found {
			by[r.Of].Clues = append(by[r.Of].Clues, r.Clue)
		}
	}, cluesWithRecords, b.institution, specimens, pattern, materials, mostClues)
}

// ownClues finds the clues of specimens whose own treatments are all that may tell.
func ownClues(treatments []treatmentRow, by map[uuid.UUID]*History) {
	known := material.Builtin()
	var clues []*treatmentRow
	for i := range treatments {
		r := &treatments[i]
		if !by[r.Of].hasRecords && (r.Telling || r.Body != nil && known.MayNameHazard(*r.Body)) {
			clues = append(clues, r)
		}
	}
	slices.SortStableFunc(clues, func(a, b *treatmentRow) int {
		return cmp.Or(compareDays(a.Earliest, b.Earliest), compareIDs(a.Record, b.Record))
	})
	for _, r := range clues {
		if h := by[r.Of]; len(h.Clues) < mostClues {
			h.Clues = append(h.Clues, Clue{Row: r.Row, Named: r.Named})
		}
	}
}

// compareDays orders days, unknown ones last.
func compareDays(a, b *time.Time) int {
	return cmp.Or(a, &NoDay).Compare(*cmp.Or(b, &NoDay))
}
