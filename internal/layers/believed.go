package layers

import (
	"context"
	"slices"
	"time"

	"github.com/google/uuid"

	"meniscus/internal/edtf"
	"meniscus/internal/ledger"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
	"meniscus/internal/statement"
)

// Believed gives the treatments that were a specimen's at a sequence number, each once and
// without its words, by the rule of the database function treatments_on, which gives the
// present ones: those of its own record and of records merged into it then, and those that
// it inherited as a part. A treatment whose words were redacted is included, because it
// may have been one of them.
func Believed(
	ctx context.Context, s postgres.Tenant, specimen uuid.UUID, sequence int64,
) ([]postgres.Dated, error) {
	return believedAt(ctx, s, specimen, sequence, func(d *postgres.Dated) error { d.Body = nil; return nil })
}

// believedAt calls keep for each of them.
func believedAt(
	ctx context.Context, s postgres.Tenant, specimen uuid.UUID, sequence int64, keep func(*postgres.Dated) error,
) ([]postgres.Dated, error) {
	var kept []postgres.Dated
	err := s.BelievedAt(ctx, specimen, sequence, func(b postgres.Believed) error {
		earlier := len(kept) > 0 && kept[len(kept)-1].Record == b.Record // its own record comes first
		d, on := believed(b)
		if !on || earlier {
			return nil
		}
		kept = append(kept, d)
		return keep(&kept[len(kept)-1])
	})
	return kept, err
}

func believed(b postgres.Believed) (d postgres.Dated, on bool) {
	d = postgres.Dated{Row: b.Row, Earliest: postgres.NoDay, Because: b.Because, Certain: true}
	if b.Because != nil {
		d.From = &b.On
	}
	if b.Act == ledger.Retracted {
		return d, false
	}
	t, err := read[*record.Treatment](b.Row.Kind, b.Row.Body)
	if err != nil {
		return d, true
	}
	if !concerns(t, b.On) {
		return d, false
	}
	dates := t.Date.Value.Period()
	if !dates.From.IsZero() {
		d.Earliest = dates.From.Time()
	}
	if deref(b.Because) != "split" {
		return d, true
	}
	d.Within, d.Certain = b.Within, !dates.To.IsZero() && b.SplitEarliest != nil &&
		dates.To.Time().Before(*b.SplitEarliest)
	return d, beforeSplit(b, dates) && went(t.Areas.Value, b.Within)
}

// beforeSplit tells whether a treatment may have happened before a part was split off;
// without dates, the order of recording decides.
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

// went tells whether a treatment's areas overlap those of a part that was split off;
// unknown areas overlap all.
func went(areas, within []string) bool {
	return len(within) == 0 || len(areas) == 0 || len(record.AreasWithin(areas, within)) > 0
}

// HistoryAt is a specimen's history as it was believed at a sequence number: its record,
// its treatments, and the stock that they used.
func HistoryAt(ctx context.Context, s postgres.Tenant, specimen uuid.UUID, sequence int64) (postgres.History, error) {
	h := postgres.History{Sequence: sequence, Borrowed: map[uuid.UUID]postgres.Borrowed{}}
	words := 0
	found, err := believedAt(ctx, s, specimen, sequence, func(d *postgres.Dated) error {
		if words += len(deref(d.Body)); words > mostViewed {
			return excessWords()
		}
		return nil
	})
	if err != nil {
		return h, err
	}
	var stock []uuid.UUID
	for _, d := range found {
		h.Treatments = append(h.Treatments, d.Row)
		if d.From != nil {
			h.Borrowed[d.Record] = postgres.Borrowed{
				Treatment: d.Record, From: *d.From, Because: deref(d.Because), Certain: d.Certain, Within: d.Within,
			}
		}
		stock = append(stock, stockIn(d.Row)...)
	}
	if h.Shelf, err = shelfAt(ctx, s, stock, sequence); err != nil {
		return h, err
	}
	if h.Specimen, err = recordAt(ctx, s, specimen, sequence); err != nil {
		return h, err
	}
	if h.Family, err = familyAt(ctx, s, h.Specimen, specimen, sequence); err != nil {
		return h, err
	}
	h.Clues, err = cluesAt(ctx, s, h, sequence)
	return h, err
}

// cluesAt gives the treatments, of a specimen and of those that it came from, whose words
// may make a hazard suspected, as they stood at a sequence number.
func cluesAt(ctx context.Context, s postgres.Tenant, h postgres.History, sequence int64) ([]postgres.Clue, error) {
	rows, shelf := h.Treatments, h.Shelf
	for _, kin := range h.Family {
		if kin.Because != "origin" {
			continue
		}
		var stock []uuid.UUID
		found, err := believedAt(ctx, s, kin.Record, sequence, func(*postgres.Dated) error { return nil })
		for _, d := range found {
			rows, stock = append(rows, d.Row), append(stock, stockIn(d.Row)...)
		}
		if err != nil {
			return nil, err
		}
		more, err := shelfAt(ctx, s, stock, sequence)
		if err != nil {
			return nil, err
		}
		shelf.Made = append(slices.Clip(shelf.Made), more.Made...)
	}
	made, met := map[uuid.UUID]postgres.Row{}, map[uuid.UUID]bool{}
	for _, row := range shelf.Made {
		made[row.Record] = row
	}
	var clues []postgres.Clue
	for _, row := range rows {
		if !met[row.Record] {
			met[row.Record] = true
			clues = append(clues, postgres.Clue{Row: row, Named: namesBehind(row, made)})
		}
	}
	return clues, nil
}

// namesBehind are the materials and words of what a treatment used, and of what that was
// made from, four steps down, as postgres.CluesOf reads them.
func namesBehind(treatment postgres.Row, made map[uuid.UUID]postgres.Row) []string {
	var names []string
	met := map[uuid.UUID]bool{}
	rows := []postgres.Row{treatment}
	for step := 0; step <= 5 && len(rows) > 0; step++ {
		var behind []postgres.Row
		for _, row := range rows {
			names = append(names, namedIn(row)...)
			for _, id := range stockIn(row) {
				if below, ok := made[id]; ok && !met[id] {
					met[id], behind = true, append(behind, below)
				}
			}
		}
		rows = behind
	}
	return names
}

// namedIn are the materials and words of what a record used or was made from.
func namedIn(row postgres.Row) []string {
	said, err := read[record.Value](row.Kind, row.Body)
	if err != nil {
		return nil
	}
	var names []string
	switch v := said.(type) {
	case *record.Treatment:
		for _, u := range v.Uses.Value {
			names = append(names, u.Material)
		}
	case *record.Supply:
		names = append(names, v.Material)
	case *record.Batch:
		for _, in := range v.Inputs.Value {
			names = append(names, in.Material, in.Words)
		}
	}
	return slices.DeleteFunc(names, func(name string) bool { return name == "" })
}

func recordAt(ctx context.Context, s postgres.Tenant, id uuid.UUID, sequence int64) ([]postgres.Row, error) {
	then, err := s.RecordAt(ctx, id, sequence)
	if err != nil || then == nil {
		return nil, err
	}
	return []postgres.Row{*then}, nil
}

// familyAt gives the other records that told of a specimen at a sequence number; the
// origins of samples are found from their statements.
func familyAt(
	ctx context.Context, s postgres.Tenant, own []postgres.Row, specimen uuid.UUID, sequence int64,
) ([]postgres.Kin, error) {
	family, err := s.FamilyAt(ctx, specimen, sequence)
	if err != nil {
		return nil, err
	}
	met := map[uuid.UUID]bool{specimen: true}
	rows := slices.Clone(own)
	for _, kin := range family {
		met[kin.Record], rows = true, append(rows, kin.Row)
	}
	for i := 0; i < len(rows) && i < mostRounds; i++ {
		said, err := read[*record.Specimen](rows[i].Kind, rows[i].Body)
		if err != nil || said.SampleOf == nil || met[said.SampleOf.Specimen] {
			continue
		}
		origin := said.SampleOf.Specimen
		taken, err := recordAt(ctx, s, origin, sequence)
		if err != nil {
			return nil, err
		}
		more, err := s.FamilyAt(ctx, origin, sequence)
		if err != nil {
			return nil, err
		}
		for _, row := range taken {
			more = append(more, postgres.Kin{Row: row})
		}
		for _, kin := range more {
			if !met[kin.Record] {
				met[kin.Record], rows = true, append(rows, kin.Row)
				family = append(family, postgres.Kin{Row: kin.Row, Because: "origin"})
			}
		}
	}
	return family, nil
}

// SurvivorAt is the record that stood for a specimen at a sequence number.
func SurvivorAt(ctx context.Context, s postgres.Tenant, specimen uuid.UUID, sequence int64) (uuid.UUID, error) {
	for range mostRounds {
		then, err := s.RecordAt(ctx, specimen, sequence)
		if err != nil || then == nil {
			return specimen, err
		}
		entry, err := statement.OpenEntry(then.Body)
		if err != nil || entry.Merged == nil {
			return specimen, nil
		}
		specimen = entry.Merged.Id
	}
	return specimen, nil
}

// shelfAt gives supplies and batches, with what those were made from and what
// became of them, as they were believed at a sequence number: one round trip for each step
// of the lineage, up to a limit.
func shelfAt(ctx context.Context, s postgres.Tenant, wanted []uuid.UUID, sequence int64) (postgres.Shelf, error) {
	var all postgres.Shelf
	asked := map[uuid.UUID]bool{}
	var made, changes, taken, treatments known
	for round := 0; ; round++ {
		wanted = slices.DeleteFunc(wanted, func(id uuid.UUID) bool { was := asked[id]; asked[id] = true; return was })
		if len(asked) > postgres.MostStock || round == mostRounds {
			all.MoreMade += len(wanted)
			wanted = nil
		}
		if len(wanted) == 0 {
			return all, nil
		}
		step, err := s.ShelfAt(ctx, wanted, sequence)
		if err != nil {
			return all, err
		}
		wanted = nil
		for _, row := range slices.Concat(step.Made, step.Changes) {
			wanted = append(wanted, stockIn(row)...)
		}
		all.MoreMade, all.MoreEntries = all.MoreMade+step.MoreMade, all.MoreEntries+step.MoreEntries
		all.Made, all.Changes = made.add(all.Made, step.Made), changes.add(all.Changes, step.Changes)
		all.Taken, all.Treatments = taken.add(all.Taken, step.Taken), treatments.add(all.Treatments, step.Treatments)
	}
}

// mostRounds is how many steps of a lineage are followed at a sequence number.
const mostRounds = 200

// known are the records whose rows have been read.
type known map[uuid.UUID]bool

func (k *known) add(to, rows []postgres.Row) []postgres.Row {
	if *k == nil {
		*k = known{}
	}
	for _, row := range rows {
		if !(*k)[row.Record] {
			(*k)[row.Record] = true
			to = append(to, row)
		}
	}
	return to
}

// stockIn gives the supplies and batches that a treatment used, a batch was made
// from, or an entry topped one up with.
func stockIn(row postgres.Row) []uuid.UUID {
	said, err := read[record.Value](row.Kind, row.Body)
	if err != nil {
		return nil // redacted or unreadable words name nothing
	}
	var ids []uuid.UUID
	switch v := said.(type) {
	case *record.Treatment:
		return stockUsed(v)
	case *record.Batch:
		for _, in := range v.Inputs.Value {
			ids = append(ids, stockOf(in.Used)...)
		}
	case *record.AmountChange:
		if v.With != nil {
			return stockOf(*v.With)
		}
	}
	return ids
}

func stockOf(from record.Used) []uuid.UUID {
	return slices.DeleteFunc([]uuid.UUID{from.Batch, from.Supply}, func(id uuid.UUID) bool { return id == uuid.Nil })
}

// AsBegan is a treatment of a walk by date: one that was revised since the walk began
// has the day that it had then.
func AsBegan(w postgres.Walked) postgres.Dated {
	d := w.Dated
	if w.Then == nil {
		return d // not revised
	}
	then, err := read[*record.Treatment](record.KindTreatment, w.Then)
	if err != nil {
		return d // its words at that time are redacted or unreadable
	}
	d.Earliest = postgres.NoDay
	if from := then.Date.Value.Period().From; !from.IsZero() {
		d.Earliest = from.Time()
	}
	return d
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
