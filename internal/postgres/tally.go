package postgres

import (
	"context"
	"fmt"
	"strconv"
	"time"

	"meniscus/internal/record"
)

// Tally counts the treatments that may have happened in a period.
type Tally struct {
	Treatments int64
	// Perhaps are those of them whose dates do not show that they were of the period.
	Perhaps int64
	// Rows are counts by one thing each, within it those with most treatments first.
	Rows []TallyRow
	// More is how many rows were left out, and Cut says that not everything was followed that
	// batches were made from.
	More int64
	Cut  bool
}

// TallyRow counts the treatments of one action, material, person or collection. A treatment
// of several counts for each.
type TallyRow struct {
	By         string  `db:"-"`    // action, material, person or collection
	ID         *string `db:"id"`   // of the material or person; nil where it is not recorded
	Name       *string `db:"name"` // the action or collection, or the person's name
	Treatments int64   `db:"treatments"`
	Among      int64   `db:"among"` // how many rows there are
	Cut        bool    `db:"cut"`
}

// mostClimbed is how many steps are followed from the batches that treatments used to what these
// were made from, counted for each batch.
const mostClimbed = 200_000

// tallies give id, name and number of treatments for those of period, and cut tells whether something was left out.
var tallies = []struct{ by, cut, with, sql string }{
	{"action", "false", "", `select null as id, action as name, count(*) as treatments from period group by 2`},
	{"material", "(select count(*) > " + strconv.Itoa(mostClimbed) + " from up)", `, used as materialized (
			select p.id, u.batch_id, coalesce(u.material_id, s.material_id) as material_id
			  from period p cross join lateral (
				select batch_id, supply_id, material_id from treatment_use
				 where institution_id = $1 and treatment_id = p.id offset 0) u
			  left join lateral (select material_id from supply where institution_id = $1 and id = u.supply_id offset 0) s on true
		), climb(root, id) as (
			select distinct batch_id, batch_id from used where batch_id is not null
			union
			select c.root, n.id from climb c cross join lateral (
				select from_batch_id as id from went_into
				 where institution_id = $1 and batch_id = c.id and from_batch_id is not null offset 0) n
		), up as materialized (
			select root, id from climb limit ` + strconv.Itoa(mostClimbed+1) + `
		), holds as (
			select distinct up.root, coalesce(w.material_id, s.material_id) as material_id
			  from up cross join lateral (
				select material_id, supply_id from went_into
				 where institution_id = $1 and batch_id = up.id and from_batch_id is null offset 0) w
			  left join lateral (select material_id from supply where institution_id = $1 and id = w.supply_id offset 0) s on true
		), consists as (
			select id, material_id from used where batch_id is null
			union
			select used.id, h.material_id from used left join holds h on h.root = used.batch_id where used.batch_id is not null)`,
		`select material_id as id, null as name, count(*) as treatments from consists group by 1`},
	{"person", "false", "", `select c.id::text as id,
			       (select display_name from person where institution_id = $1 and id = c.id) as name, c.treatments
			  from (select w.person_id as id, count(distinct p.id) as treatments
			          from period p left join lateral (
						select person_id from treatment_person where institution_id = $1 and treatment_id = p.id offset 0) w on true
			         group by 1) c`},
	{"collection", "false", "", `
		select null as id, sp.collection as name, count(*) as treatments from period t ` + standingSpecimen + ` group by 2`},
}

// Tally counts the treatments that may have happened between two days, either of which may be
// nil, in all and by each of four things: at most so many rows of each.
func (s Tenant) Tally(ctx context.Context, from, until *time.Time, rows int) (Tally, error) {
	by := map[string]any{}
	if from != nil {
		by["from"] = *from
	}
	if until != nil {
		by["until"] = *until
	}
	w := Filter{Kind: record.KindTreatment, By: by}.where(s.institution)
	narrowed := w.args
	period := `with recursive period as materialized (
			select t.id, t.specimen_id, t.action, t.earliest, t.latest from treatment t where ` + w.sql() + `)`
	type total struct{ Treatments, Perhaps int64 }
	var all []total
	b := newBatchByIndex(s.institution)
	queue(b, &all, fmt.Sprintf(`%s select count(*) as treatments, count(*) filter (
			where %[2]s is not null and (earliest is null or earliest < %[2]s)
			   or %[3]s is not null and (latest is null or latest > %[3]s)) as perhaps from period`,
		period, w.arg(from)+"::date", w.arg(until)+"::date"), w.args...)
	found := make([][]TallyRow, len(tallies))
	for i, t := range tallies {
		queue(b, &found[i], fmt.Sprintf(`%s%s
			select id, name, treatments, count(*) over () as among, %s as cut from (%s) x
			 order by treatments desc, id, name limit %d`, period, t.with, t.cut, t.sql, rows), narrowed...)
	}
	if err := s.run(ctx, b); err != nil {
		return Tally{}, err
	}
	out := Tally{Treatments: all[0].Treatments, Perhaps: all[0].Perhaps}
	for i, group := range found {
		for _, row := range group {
			row.By = tallies[i].by
			out.Rows = append(out.Rows, row)
		}
		if len(group) > 0 {
			out.More += group[0].Among - int64(len(group))
			out.Cut = out.Cut || group[0].Cut
		}
	}
	return out, nil
}
