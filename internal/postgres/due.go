package postgres

import (
	"context"
	"time"

	"github.com/google/uuid"

	"meniscus/internal/record"
)

// undated is the day of what waits and has no date.
var undated = time.Date(1, 1, 1, 0, 0, 0, 0, time.UTC)

// saysDue are the kinds of record that may say what is to be done.
var saysDue = map[record.Kind]bool{record.KindTreatment: true, record.KindPlan: true, record.KindSupply: true,
	record.KindBatch: true, record.KindAmountChange: true}

// due projects what a statement says is to be done.
func (p *Projector) due(v record.Value) {
	if !saysDue[v.Kind()] {
		return
	}
	p.clear("due", "record_id")
	for _, d := range record.DueOf(v) {
		day := undated
		if !d.Day.IsZero() {
			day = d.Day.Time()
		}
		p.batch.put(dueTable, p.record, d.What, day)
	}
}

// DueStep is a position in the list of what is due: the zero value is before all of it.
type DueStep struct {
	Day    time.Time
	What   string
	Record uuid.UUID
}

// DueRow is something that a record says is to be done.
type DueRow struct {
	Day    time.Time `db:"day"`
	What   string    `db:"what"`
	Record uuid.UUID `db:"record_id"`
	// Open is false where the record was retracted, or a later one settles it.
	Open     bool       `db:"open"`
	Specimen *uuid.UUID `db:"specimen"` // the record that stands for it
	Number   *string    `db:"number"`   // its first
	Action   *string    `db:"action"`
	Batch    *uuid.UUID `db:"batch"`
	Code     *string    `db:"code"` // of the supply or batch
}

// Step is the row's position.
func (r DueRow) Step() DueStep { return DueStep{r.Day, r.What, r.Record} }

// Undated tells whether it has no date, and waits since it was recorded.
func (r DueRow) Undated() bool { return r.Day.Equal(undated) }

// Due gives the next rows up to a day, in order of day, what and record, those that are settled
// among them: it looks at no more rows than it gives.
//
// A check of a specimen is settled by an examination of it on a later day than the treatment's,
// which is not before the day of the check or says itself when the next check is; drying by any
// examination on a later day; a plan by a treatment that carries it out; a batch's strength by a
// weighing that corrects it on that day or later. Whether a batch runs low, its entries tell.
func (s Tenant) Due(ctx context.Context, from DueStep, until time.Time, limit int) ([]DueRow, error) {
	return collect[DueRow](ctx, s, `
		with step as materialized (
			select day, what, record_id from due
			 where institution_id = $1 and (day, what, record_id) > ($2::date, $3::text, $4::uuid) and day <= $5
			 order by day, what, record_id limit $6)
		select s.day, s.what, s.record_id, coalesce(x.open, false) as open, x.specimen, x.action, x.batch, x.code,
		       (select n.value from specimen_identifier n where n.institution_id = $1 and n.specimen_id = x.specimen
		         order by n.position limit 1) as number
		  from step s left join lateral (
			select `+dueOpen+` as open, sp.id as specimen,
			       case when withheld($1, 'treatment', t.id) then 'restricted-treatment' else t.action end as action,
			       null::uuid as batch, null as code
			  from treatment t `+standingSpecimen+`
			 where s.what in ('next-check', 'drying') and t.institution_id = $1 and t.id = s.record_id
			union all
			select not t.retracted and not t.authorised and not exists (select from treatment c
			        where c.institution_id = $1 and c.plan_id = t.id and not c.retracted), sp.id,
			       case when withheld($1, 'plan', t.id) then 'restricted-treatment' else t.action end, null, null
			  from plan t `+standingSpecimen+`
			 where s.what = 'authorisation' and t.institution_id = $1 and t.id = s.record_id
			union all
			select not t.retracted, null, null, null, t.code from supply t
			 where s.what in ('supply-expires', 'running-low') and t.institution_id = $1 and t.id = s.record_id
			union all
			select not t.retracted, null, null, t.id, t.code from batch t
			 where s.what in ('batch-expires', 'clear-check', 'running-low') and t.institution_id = $1 and t.id = s.record_id
			union all
			select not t.retracted and not b.retracted and not exists (select from amount_change c
			        where c.institution_id = $1 and c.batch_id = b.id and c.kind = 'corrected-by-weighing' and not c.retracted
			          and c.id <> t.id and c.earliest >= s.day), null, null, b.id, b.code
			  from amount_change t join batch b on b.institution_id = $1 and b.id = t.batch_id
			 where s.what = 'strength-check' and t.institution_id = $1 and t.id = s.record_id
			offset 0) x on true
		 order by s.day, s.what, s.record_id`, s.institution, from.Day, from.What, from.Record, until, limit)
}

// dueOpen tells whether nothing later settles what a treatment t says is due on a specimen sp.
const dueOpen = `not t.retracted and not exists (
			select from records_of($1, sp.id) r(id) cross join lateral (
				select x.id, x.earliest from treatment x
				 where x.institution_id = $1 and x.specimen_id = r.id and x.action = 'examination' and not x.retracted
				   and x.id <> t.id and (t.latest is null or x.earliest > t.latest) offset 0) x
			 where s.what = 'drying' or x.earliest >= s.day
			    or exists (select from due y where y.institution_id = $1 and y.record_id = x.id and y.what = 'next-check'))`
