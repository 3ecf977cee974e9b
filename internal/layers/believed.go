package layers

import (
	"context"
	"slices"
	"time"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/edtf"
	"meniscus/internal/ledger"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
)

// Believed keeps the treatments that were a specimen's at a place, each once, by
// the rule that the database's function treatments_on has for now: those of its
// own record and of records merged into it then, and those that it inherited as
// a part. A treatment whose words are gone is kept, because nobody can tell.
func Believed(found []postgres.Believed) []postgres.Dated {
	var kept []postgres.Dated
	for _, b := range found {
		earlier := len(kept) > 0 && kept[len(kept)-1].Record == b.Record // its own record comes first
		if d, on := believed(b); on && !earlier {
			kept = append(kept, d)
		}
	}
	return kept
}

func believed(b postgres.Believed) (d postgres.Dated, on bool) {
	d = postgres.Dated{Row: b.Row, Earliest: postgres.NoDay, Because: b.Because, Certain: true}
	if b.Because != nil {
		d.From = &b.On
	}
	var st api.TreatmentStatement
	switch {
	case b.Act == ledger.Retracted:
		return d, false
	case !read(b.Row, &st):
		return d, true
	case !concerns(&st, b.On):
		return d, false
	}
	dates := when(&st.Dates)
	if !dates.From.IsZero() {
		d.Earliest = dates.From.Time()
	}
	if deref(b.Because) != "split" {
		return d, true
	}
	d.Within, d.Certain = b.Within, !dates.To.IsZero() && b.SplitEarliest != nil && dates.To.Time().Before(*b.SplitEarliest)
	return d, beforeSplit(b, dates) && went(st.Areas.Paths, b.Within)
}

// beforeSplit tells whether a treatment may have been before a part went; where
// there are no dates, the order of recording tells.
func beforeSplit(b postgres.Believed, dates edtf.Period) bool {
	began := dates.From
	if began.IsZero() {
		began = dates.To
	}
	if b.SplitLatest == nil || began.IsZero() {
		return b.SplitRecorded != nil && !b.First.After(*b.SplitRecorded)
	}
	return !began.Time().After(*b.SplitLatest)
}

// went tells whether a treatment's areas meet those that went with a part;
// either may not be known.
func went(areas *[]string, within []string) bool {
	return len(within) == 0 || len(deref(areas)) == 0 || len(record.AreasWithin(*areas, within)) > 0
}

// HistoryAt is a specimen's history as it was believed at a place: its record,
// its treatments, and the stock that they used.
func HistoryAt(ctx context.Context, s *postgres.Store, institution, specimen uuid.UUID, place int64) (postgres.History, error) {
	h := postgres.History{Place: place, Borrowed: map[uuid.UUID]postgres.Borrowed{}}
	found, err := s.BelievedAt(ctx, institution, specimen, place)
	if err != nil {
		return h, err
	}
	var stock []uuid.UUID
	for _, d := range Believed(found) {
		h.Treatments = append(h.Treatments, d.Row)
		if d.From != nil {
			h.Borrowed[d.Record] = postgres.Borrowed{Treatment: d.Record, From: *d.From, Because: deref(d.Because), Certain: d.Certain, Within: d.Within}
		}
		stock = append(stock, stockIn(d.Row)...)
	}
	if h.Stock, err = stockAt(ctx, s, institution, stock, place); err != nil {
		return h, err
	}
	then, err := s.RecordAt(ctx, institution, specimen, place)
	if then != nil {
		h.Specimen = []postgres.Row{*then}
	}
	return h, err
}

// mostSteps is how far a lineage is followed at an earlier place.
const mostSteps = 200

// stockAt gives supplies and batches, and what those were made from, as they
// were believed at a place: one round trip for each step of the lineage.
func stockAt(ctx context.Context, s *postgres.Store, institution uuid.UUID, wanted []uuid.UUID, place int64) ([]postgres.Row, error) {
	var all []postgres.Row
	seen := map[uuid.UUID]bool{}
	for range mostSteps {
		wanted = slices.DeleteFunc(wanted, func(id uuid.UUID) bool { was := seen[id]; seen[id] = true; return was })
		if len(wanted) == 0 {
			break
		}
		rows, err := s.RecordsAt(ctx, institution, wanted, place)
		if err != nil {
			return nil, err
		}
		all, wanted = append(all, rows...), nil
		for _, row := range rows {
			wanted = append(wanted, stockIn(row)...)
		}
	}
	return all, nil
}

// stockIn gives the supplies and batches that a treatment or a batch names.
func stockIn(row postgres.Row) []uuid.UUID {
	var ids []uuid.UUID
	add := func(batch, supply *api.RecordRef) {
		for _, ref := range []*api.RecordRef{batch, supply} {
			if ref != nil {
				ids = append(ids, ref.Id)
			}
		}
	}
	switch row.Kind {
	case record.KindTreatment:
		var st api.TreatmentStatement
		_ = read(row, &st) // words that are gone name nothing
		for _, use := range deref(st.Materials) {
			add(use.Used.Batch, use.Used.Supply)
		}
	case record.KindBatch:
		var st api.BatchStatement
		_ = read(row, &st) // words that are gone name nothing
		for _, in := range deref(st.Inputs) {
			add(in.From.Batch, in.From.Supply)
		}
	}
	return ids
}

// AsBegan gives the treatments of a walk by date, those that were revised since
// it began with the day that they stood at then.
func AsBegan(walked []postgres.Walked) []postgres.Dated {
	list := make([]postgres.Dated, len(walked))
	for i, w := range walked {
		list[i] = w.Dated
		var st api.TreatmentStatement
		if w.Then == nil || !read(postgres.Row{Body: w.Then}, &st) {
			continue // it is as it was, or its words of then are gone
		}
		list[i].Earliest = postgres.NoDay
		if from := when(&st.Dates).From; !from.IsZero() {
			list[i].Earliest = from.Time()
		}
	}
	return list
}

// ByDate orders treatments by the earliest day that they may have happened on
// and then by id, and leaves out what is not after such a pair.
func ByDate(list []postgres.Dated, day time.Time, after uuid.UUID) []postgres.Dated {
	compare := func(a, b postgres.Dated) int {
		if c := a.Earliest.Compare(b.Earliest); c != 0 {
			return c
		}
		return slices.Compare(a.Record[:], b.Record[:])
	}
	last := postgres.Dated{Row: postgres.Row{Record: after}, Earliest: day}
	list = slices.DeleteFunc(list, func(d postgres.Dated) bool { return compare(d, last) <= 0 })
	slices.SortFunc(list, compare)
	return list
}
