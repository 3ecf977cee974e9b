package postgres

import (
	"context"
	"maps"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"meniscus/internal/record"
)

// List gives the records that match a filter, in the order of their ids, after an id: a
// page of at most limit, fewer where they are large, and whether there may be more. An
// id never changes, so nothing is skipped or doubled while others write; what is
// recorded meanwhile has a later id, unless its caller chose one.
func (s Tenant) List(ctx context.Context, f Filter, after uuid.UUID, limit int) (page []Row, more bool, err error) {
	if f, err = s.readFor(ctx, f); err != nil {
		return nil, false, err
	}
	if err := s.listsWhatIsWithheld(ctx, f); err != nil {
		return nil, false, err
	}
	from, id, w := f.listed(s.institution, after)
	rows, err := collect[Row](ctx, s, boundedRows(listedWords, "e.record_id", `
		select `+entryColumns+`, null::bigint as seq
		  from `+from+`
		 cross join lateral (select * from entry where institution_id = $1 and record_id = t.id
		                        and revision = t.revision offset 0) e
		 where `+w.sql()+` order by `+id+` limit `+w.arg(limit+1)), w.args...)
	page, more = cut(rows, limit, listedWords)
	return page, more, err
}

// listed gives what a list of the records t after an id is read from, the id that it is in order of,
// and the conditions. What other tables tell is looked up first, and then, row by row, the
// records; all at once, Postgres reads all records of the institution beside them.
func (f Filter) listed(institution, after uuid.UUID) (from, id string, w *conditions) {
	kind := kinds[f.Kind]
	first := f.narrowest()
	if first == "" {
		w = f.where(institution)
		w.and("t.id > ?", after)
		return kind.name + " t", "t.id", w
	}
	ofRow := f
	ofRow.By = maps.Clone(f.By)
	maps.DeleteFunc(ofRow.By, func(name string, _ any) bool { return kind.filters[name].byID() })
	w = ofRow.where(institution)
	late := w.texts
	w.texts = nil // what asks the id alone is looked at before the record itself
	w.and("x.id > ?", after)
	for _, name := range slices.Sorted(maps.Keys(f.By)) {
		if n, asked := kind.filters[name]; asked && n.byID() && name != first {
			w.and(f.orWithheld(name, n.on("x.id"), "x.id"), f.By[name])
		}
	}
	found := strings.ReplaceAll(kind.filters[first].ids, "?", w.arg(f.By[first]))
	if !f.tells(first) {
		found = "(" + found + ") union " + restrictedOf(f.Kind)
	}
	early := w.sql()
	w.texts = late
	return `(select distinct x.id from (` + found + `) x(id) where ` + early + ` order by 1) found
		 cross join lateral (select * from ` + kind.name + ` where institution_id = $1 and id = found.id offset 0) t`, "found.id", w
}

// listsWhatIsWithheld refuses to list the stock that was used on a specimen that is withheld.
func (s Tenant) listsWhatIsWithheld(ctx context.Context, f Filter) error {
	specimen, asked := f.By["specimen"].(uuid.UUID)
	if !asked || withholdable[f.Kind] {
		return nil
	}
	withheld, err := s.Withheld(ctx, []uuid.UUID{specimen})
	if err == nil && withheld {
		err = ErrWithheld
	}
	return err
}

// narrowest gives the filter that is looked up first; "" where all that is asked stands in the
// record's own row.
func (f Filter) narrowest() string {
	for _, name := range []string{"specimen", "batch", "supply", "person", "material"} {
		if kinds[f.Kind].filters[name].ids != "" && f.By[name] != nil {
			return name
		}
	}
	return ""
}

// ListSince gives the records that match a filter and whose latest revision was sealed
// at a moment or later, in order of sequence, after a sequence number. A record that is
// revised meanwhile moves to its new sequence number: it may be met again, with the new
// revision, and is never missed. Until a revision has its sequence number, the record
// stands at the one before. Its pages are those of List.
func (s Tenant) ListSince(
	ctx context.Context, f Filter, since time.Time, after int64, limit int,
) (page []Row, more bool, err error) {
	if f, err = s.readFor(ctx, f); err != nil {
		return nil, false, err
	}
	if err := s.listsWhatIsWithheld(ctx, f); err != nil {
		return nil, false, err
	}
	w := f.where(s.institution)
	w.and("p.institution_id = ?", s.institution)
	w.and("p.seq > ?", after)
	w.and("p.seq > "+lastSealed("<", "?"), since)
	rows, err := collect[Row](ctx, s, boundedRows(listedWords, "e.seq", `
		select `+entryColumns+`, p.seq
		  from sequenced p
		  join `+kinds[f.Kind].name+` t on t.institution_id = p.institution_id and t.id = p.record_id
		  `+ofSequence+`
		 where `+w.sql()+` and e.revision <= t.revision and not exists (
			select from sequenced q cross join lateral (
				select revision from entry where id = q.entry_id and institution_id = q.institution_id offset 0) r
			 where q.institution_id = p.institution_id and q.record_id = p.record_id and q.seq > p.seq
			   and r.revision <= t.revision offset 0)
		 order by p.seq limit `+w.arg(limit+1)), w.args...)
	page, more = cut(rows, limit, listedWords)
	return page, more, err
}

// MoreBatches counts the batches that hold the material of a filter beyond the limit up
// to which the filter follows them.
func (s Tenant) MoreBatches(ctx context.Context, f Filter) (int, error) {
	material, asked := f.By["material"]
	if !asked || !slices.Contains([]record.Kind{record.KindBatch, record.KindTreatment, record.KindPlan}, f.Kind) {
		return 0, nil
	}
	type one struct{ Held int }
	rows, err := collect[one](ctx, s,
		strings.ReplaceAll(madeOf, "?", "$2")+`select count(*) as held from descent`, s.institution, material)
	if err != nil {
		return 0, err
	}
	return max(0, rows[0].Held-mostHolding), nil
}

// Exists tells whether a record of a kind is here, retracted or not.
func (s Tenant) Exists(ctx context.Context, kind record.Kind, id uuid.UUID) (bool, error) {
	type one struct{ Found bool }
	rows, err := collect[one](ctx, s,
		exists(kind), s.institution, id)
	return err == nil && rows[0].Found, err
}

func exists(kind record.Kind) string {
	return `select exists (select from ` + kinds[kind].name + ` where institution_id = $1 and id = $2) as found`
}
