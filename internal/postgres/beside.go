package postgres

import (
	"context"
	"slices"

	"github.com/google/uuid"

	"meniscus/internal/record"
)

// A Question is what is asked about statements that are being recorded.
type Question struct {
	Records   []uuid.UUID // supplies and batches that they name
	Specimens []uuid.UUID
	Twins     []Twin
	Numbers   []SpecimenNumber // near spellings of these are looked up
}

// A Twin is a treatment for which others that say the same are looked up.
type Twin struct {
	Nth      int // of the answer
	Record   uuid.UUID
	Specimen uuid.UUID
	Said     *record.Treatment
	Words    []byte
}

// Beside is the answer of a Question.
type Beside struct {
	// Rows are the statements in force, also of the surviving records of specimens that
	// were merged. StandFor gives the surviving record of a merged specimen.
	Rows     []Row
	StandFor map[uuid.UUID]uuid.UUID
	Twins    map[int][]uuid.UUID
	Near     map[SpecimenNumber][]Near
}

// Beside looks up what a Question asks, in one round trip.
func (s Tenant) Beside(ctx context.Context, q Question) (Beside, error) {
	b := newBatch(s.institution)
	found := queueBeside(b, q)
	if b.Len() == 1 { // the tenant alone
		return *found, nil
	}
	err := s.run(ctx, b)
	return *found, err
}

// queueBeside asks a Question in a batch that may go on to write. Its queries are planned for
// the tables as they are.
func queueBeside(b *batch, q Question) *Beside {
	found := &Beside{StandFor: map[uuid.UUID]uuid.UUID{}, Twins: map[int][]uuid.UUID{}, Near: map[SpecimenNumber][]Near{}}
	if len(q.Records)+len(q.Specimens)+len(q.Twins)+len(q.Numbers) == 0 {
		return found
	}
	b.Queue(plannedAnew)
	if len(q.Records)+len(q.Specimens) > 0 {
		queueStanding(b, q, found)
	}
	if len(q.Twins) > 0 {
		queueTwins(b, q.Twins, found.Twins)
	}
	if len(q.Numbers) > 0 {
		queueNear(b, q.Numbers, found.Near)
	}
	b.Queue(plannedAsUsual)
	return found
}

func queueStanding(b *batch, q Question, found *Beside) {
	type stands struct{ ID, Survivor uuid.UUID }
	var survivors []stands
	queueInto(b, func(rows []stands) {
		for _, r := range rows {
			found.StandFor[r.ID] = r.Survivor
		}
	}, &survivors, `
		select id, survivor_of($1, id) as survivor from specimen
		 where institution_id = $1 and id = any($2) and merged_into is not null`, b.institution, q.Specimens)
	queue(b, &found.Rows, `
		select `+entryColumns+`, null::bigint as seq
		  from (select unnest($2::uuid[]) as id union
		        select case when merged_into is null then id else survivor_of($1, id) end from specimen
		         where institution_id = $1 and id = any($3)) as r
		 cross join lateral (
			select * from entry where institution_id = $1 and record_id = r.id and act <> 'redacted'
			 order by revision desc limit 1) as e
		 where e.act <> 'retracted'`, b.institution, q.Records, q.Specimens)
}

const (
	// lookedForTwins is how many treatments of a specimen, the latest recorded first,
	// are searched for one of the same action and date; mostTwins is how many of those
	// have their words compared.
	lookedForTwins = 1000
	mostTwins      = 20
)

// queueTwins looks for treatments of the same action and date on the same specimen
// whose words are the same. Treatments that differ only in their event, or in the old card
// that they were taken from, count as the same.
func queueTwins(b *batch, twins []Twin, into map[int][]uuid.UUID) {
	var nth []int32
	var records, specimens []uuid.UUID
	var actions, words []string
	var earliest, latest []any
	for _, t := range twins {
		from, to := bounds(t.Said.Date.Value)
		nth, records, specimens = append(nth, int32(t.Nth)), append(records, t.Record), append(specimens, t.Specimen)
		actions, words = append(actions, string(t.Said.Action)), append(words, string(t.Words))
		earliest, latest = append(earliest, from), append(latest, to)
	}
	type row struct {
		Nth int32
		ID  uuid.UUID
	}
	var rows []row
	queueInto(b, func(found []row) {
		for _, r := range found {
			into[int(r.Nth)] = append(into[int(r.Nth)], r.ID)
		}
	}, &rows, `
		select a.nth, t.id
		  from unnest($2::int[], $3::uuid[], $4::uuid[], $5::text[], $6::date[], $7::date[], $8::text[])
		       as a(nth, id, specimen, action, earliest, latest, words)
		 cross join lateral (
			select l.id, l.revision from (
				select * from treatment where institution_id = $1 and specimen_id = a.specimen order by id desc limit $9) as l
			 where l.id <> a.id and not l.retracted and l.action = a.action
			   and l.earliest is not distinct from a.earliest and l.latest is not distinct from a.latest
			 order by l.id desc limit $10) as t
		  join entry e on e.institution_id = $1 and e.record_id = t.id and e.revision = t.revision
		 where not withheld($1, 'treatment', t.id)
		   and (e.body::jsonb -> 'statement') - 'event' - 'oldCard' = a.words::jsonb - 'event' - 'oldCard'
		 order by 1, 2`, b.institution, nth, records, specimens, actions, earliest, latest, words, lookedForTwins, mostTwins)
}

// queueNear looks for the numbers of specimens that fold as a variant of these does,
// in the same collection and of the same kind.
func queueNear(b *batch, numbers []SpecimenNumber, near map[SpecimenNumber][]Near) {
	var nth, likeness []int32
	var folds, kinds, collections []string
	var uncollected []bool
	for i, n := range numbers {
		if slices.Index(numbers, n) < i {
			continue
		}
		for _, v := range record.Variants(n.Value)[1:] {
			nth, likeness, folds = append(nth, int32(i)), append(likeness, int32(v.Likeness)), append(folds, v.Fold)
			kinds, collections = append(kinds, n.Kind), append(collections, n.Collection)
			uncollected = append(uncollected, n.Uncollected)
		}
	}
	type row struct {
		Nth int32
		Near
	}
	var rows []row
	queueInto(b, func(found []row) {
		for _, r := range found {
			near[numbers[r.Nth]] = append(near[numbers[r.Nth]], r.Near)
		}
	}, &rows, `
		select a.nth, a.folded as asked, `+survivor+` as specimen_id, hit.specimen_id as registered, hit.kind, hit.value,
		       hit.collection, a.likeness
		  from unnest($2::int[], $3::int[], $4::text[], $5::text[], $6::text[], $7::boolean[])
		       as a(nth, likeness, folded, kind, collection, uncollected)
		 cross join lateral (
			select i.specimen_id, i.kind, i.value, i.collection, s.merged_into from (
				select * from specimen_identifier where institution_id = $1 and folded = a.folded and kind = a.kind
				 order by specimen_id limit $8) as i
			  join specimen s on s.id = i.specimen_id and s.institution_id = $1 and not s.retracted
			 where case when a.uncollected then i.collection is null
			            else a.collection = '' or i.collection = a.collection end
			 order by i.specimen_id, i.position limit $9) as hit`,
		b.institution, nth, likeness, folds, kinds, collections, uncollected, record.MaxNear, mostNear)
}

// mostNear is how many specimens are given for one near spelling.
const mostNear = 5
