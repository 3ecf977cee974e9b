package postgres

import (
	"context"

	"github.com/google/uuid"

	"meniscus/internal/ledger"
)

// InForceOf gives, for each of the records, its last revision that states,
// amends or retracts. Where those words were erased, the row has no body. Ids
// that are not here are left out.
func (s Tenant) InForceOf(ctx context.Context, ids []uuid.UUID) (map[uuid.UUID]Row, error) {
	found := map[uuid.UUID]Row{}
	if len(ids) == 0 {
		return found, nil
	}
	rows, err := collect[Row](ctx, s, `
		select distinct on (e.record_id) `+entryColumns+`, null::bigint as seq from entry e
		 where e.institution_id = $1 and e.record_id = any($2) and e.act <> $3
		 order by e.record_id, e.revision desc`, s.institution, ids, ledger.Redacted)
	for _, row := range rows {
		found[row.Record] = row
	}
	return found, err
}

// SequencesOf gives the sequence numbers of entries, by their records; an entry that has
// none yet is left out.
func (s Tenant) SequencesOf(ctx context.Context, entries []uuid.UUID) (map[uuid.UUID]int64, error) {
	type numbered struct {
		Record   uuid.UUID `db:"record_id"`
		Sequence int64     `db:"seq"`
	}
	found := map[uuid.UUID]int64{}
	rows, err := collect[numbered](ctx, s, `
		select p.record_id, p.seq from unnest($2::uuid[]) as asked (id)
		 cross join lateral (select record_id, seq from sequenced
		                      where entry_id = asked.id and institution_id = $1 offset 0) p`, s.institution, entries)
	for _, row := range rows {
		found[row.Record] = row.Sequence
	}
	return found, err
}

// mostGone is how many treatments are named that say nothing any more.
const mostGone = 100

// GoneOf gives the treatments of a specimen that were retracted, or whose words were
// redacted, as they stand.
func (s Tenant) GoneOf(ctx context.Context, specimen uuid.UUID) ([]Row, error) {
	return collect[Row](ctx, s, `
		select `+entryColumns+`, null::bigint as seq
		  from (select id, revision, retracted from treatment where institution_id = $1 and specimen_id = $2) t
		 cross join lateral (select * from entry where institution_id = $1 and record_id = t.id and revision = t.revision offset 0) e
		 where t.retracted or e.body is null order by e.record_id limit $3`, s.institution, specimen, mostGone)
}

// OnSpecimen is a treatment of one of several specimens.
type OnSpecimen struct {
	Dated
	Specimen uuid.UUID `db:"on_specimen"`
	// Of is how many treatments the specimen has, which may be more than are given.
	Of int `db:"of_specimen"`
}

// How many bytes of words of treatments are published: of one specimen, and of all that
// are published together, which has room for two.
const (
	publishedWords    = 4 << 20
	publishedTogether = 10 << 20
)

// TreatmentsOfSpecimens gives the treatments of the specimens that are not retracted,
// those that join one of them to another, were stated about a record merged into one or
// are inherited by one among them, in the order of their ids. For a specimen with more
// than publishedWords the latest recorded are given. The error is ErrTooMuch where
// several specimens together have more than publishedTogether.
func (s Tenant) TreatmentsOfSpecimens(ctx context.Context, specimens []uuid.UUID) (found []OnSpecimen, err error) {
	left := publishedTogether
	b := newBatchByIndex(s.institution)
	queueWithin(b, &left, func(rows []OnSpecimen) { found = rows }, `
		`+treatmentsOnEach+`select `+entryColumns+`, e.seq, e.day, e.on_specimen, e.stated_about, e.because, e.certain, e.within,
		       e.of_specimen from (
			select `+entryColumns+`, null::bigint as seq, coalesce(t.earliest, $3::date) as day, t.specimen as on_specimen,
			       case when t.because is not null then t.stated_about end as stated_about, t.because, t.certain, t.within,
			       count(*) over (partition by t.specimen) as of_specimen,
			       coalesce(sum(octet_length(e.body)) over (partition by t.specimen order by t.id desc
			                rows between unbounded preceding and 1 preceding), 0) as words_before
			  from on_each t join entry e on e.institution_id = $1 and e.record_id = t.id and e.revision = t.revision) e
		 where e.words_before < $4 order by e.record_id`, s.institution, specimens, NoDay, publishedWords)
	return found, s.run(ctx, b)
}

// StandingFor gives, for each of the specimens, the records that were merged
// into it.
func (s Tenant) StandingFor(ctx context.Context, specimens []uuid.UUID) (map[uuid.UUID][]uuid.UUID, error) {
	type pair struct{ Of, ID uuid.UUID }
	rows, err := collect[pair](ctx, s, `
		select s.id as of, r.id from (select distinct unnest($2::uuid[]) as id) s
		 cross join lateral records_of($1, s.id) as r(id) where r.id <> s.id order by 1, 2`, s.institution, specimens)
	found := map[uuid.UUID][]uuid.UUID{}
	for _, r := range rows {
		found[r.Of] = append(found[r.Of], r.ID)
	}
	return found, err
}

// SpecimensOfTreatment gives the specimens that a treatment is about, retracted
// or not.
func (s Tenant) SpecimensOfTreatment(ctx context.Context, treatment uuid.UUID) ([]uuid.UUID, error) {
	type row struct{ ID uuid.UUID }
	rows, err := collect[row](ctx, s, `
		select unnest(array_remove(array[specimen_id, joined_to_id], null)) as id
		  from treatment where institution_id = $1 and id = $2`, s.institution, treatment)
	ids := make([]uuid.UUID, len(rows))
	for i, r := range rows {
		ids[i] = r.ID
	}
	return ids, err
}

// SpecimensIn gives the specimens of a collection, or of all of them when it is
// empty, that are neither retracted nor merged into another, in the order of their ids,
// after an id: a page of at most limit, whose own words have as many bytes as a list holds.
// The last page is empty.
func (s Tenant) SpecimensIn(
	ctx context.Context, collection string, after uuid.UUID, limit int,
) ([]uuid.UUID, error) {
	rows, err := collect[idRow](ctx, s, bounded(listedWords, "e.id", "e.body", "e.id", `
		select t.id, e.body
		  from specimen t
		  join entry e on e.institution_id = t.institution_id and e.record_id = t.id and e.revision = t.revision
		 where t.institution_id = $1 and not t.retracted and t.merged_into is null and t.id > $3
		   and ($2 = '' or t.collection = $2)
		 order by t.id limit $4`), s.institution, collection, after, limit)
	ids := make([]uuid.UUID, len(rows))
	for i, row := range rows {
		ids[i] = row.ID
	}
	return ids, err
}
