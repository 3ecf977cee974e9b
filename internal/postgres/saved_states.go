package postgres

import (
	"context"
	"maps"
	"slices"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
)

// SaveStates replaces what is stored of specimens, and the findings of the treatments
// that were checked. A state is not stored if a newer one (of a higher sequence number)
// is there. The layers of a treatment are written only where they differ from those that
// are stored: a new coat seldom changes what is known of those below it.
func (s Tenant) SaveStates(ctx context.Context, made []SpecimenState) error {
	if len(made) == 0 {
		return nil
	}
	made = slices.SortedFunc(slices.Values(made), func(a, b SpecimenState) int { return compareIDs(a.Specimen, b.Specimen) })
	err := s.begin(ctx, func(tx pgx.Tx) error {
		newest, stored, err := s.beginStates(ctx, tx, made)
		if err != nil || len(newest) == 0 {
			return err
		}
		b := newBatch(s.institution)
		b.putStates(newest, stored)
		return tx.SendBatch(ctx, b.within(ctx)).Close()
	})
	return translate(ctx, err)
}

// beginStates stores of when states are, which keeps other workers from storing theirs until
// the transaction ends. It gives those states that are not older than what was stored, and
// their stored layers by treatment.
func (s Tenant) beginStates(
	ctx context.Context, tx pgx.Tx, made []SpecimenState,
) (newest []SpecimenState, stored map[uuid.UUID][]storedLayer, err error) {
	specimens, treatments := make([]uuid.UUID, len(made)), []uuid.UUID{}
	b := newBatchPlannedAnew(s.institution)
	kept := map[uuid.UUID]bool{}
	for i, st := range made {
		specimens[i] = st.Specimen
		b.put(specimenStateTable, st.Specimen, st.Sequence, st.ComputedOn).then = func(rows pgx.Rows) error {
			found, err := pgx.CollectRows(rows, pgx.RowTo[uuid.UUID])
			for _, id := range found {
				kept[id] = true
			}
			return err
		}
		for _, l := range st.Layers {
			treatments = append(treatments, l.Treatment)
		}
	}
	var layers []storedLayer
	queue(b, &layers, `
		select l.specimen_id, l.treatment_id, l.position, l.role, l.state, l.redissolvable, l.removable, l.retreatable, l.body,
		       l.areas, array(select m.material_id from layer_material m where m.institution_id = $1
		                         and m.treatment_id = l.treatment_id and m.position = l.position) as materials
		  from (select * from layer_state where institution_id = $1 and specimen_id = any($2)
		        union
		        select * from layer_state where institution_id = $1 and treatment_id = any($3)) l
		 order by l.treatment_id, l.position`, s.institution, specimens, treatments)
	if err := tx.SendBatch(ctx, b.within(ctx)).Close(); err != nil {
		return nil, nil, err
	}
	stored = map[uuid.UUID][]storedLayer{}
	for _, l := range layers {
		stored[l.Treatment] = append(stored[l.Treatment], l)
	}
	return slices.DeleteFunc(made, func(st SpecimenState) bool { return !kept[st.Specimen] }), stored, nil
}

// storedLayer is a layer as it is stored, with its specimen.
type storedLayer struct {
	Specimen uuid.UUID `db:"specimen_id"`
	LayerState
	Names []string `db:"materials"`
}

// same tells whether a computed layer is what is stored.
func (l storedLayer) same(specimen uuid.UUID, made LayerState) bool {
	materials := slices.Compact(slices.Sorted(slices.Values(made.Materials)))
	kept := l.LayerState
	return l.Specimen == specimen && slices.Equal(kept.Areas, made.Areas) &&
		slices.Equal(slices.Sorted(slices.Values(l.Names)), materials) && kept.Treatment == made.Treatment &&
		kept.Position == made.Position && kept.Role == made.Role && kept.State == made.State &&
		kept.Redissolvable == made.Redissolvable && kept.Removable == made.Removable &&
		kept.Retreatable == made.Retreatable && kept.Body == made.Body
}

// putStates writes what differs from what is stored.
func (b *batch) putStates(made []SpecimenState, stored map[uuid.UUID][]storedLayer) {
	var specimens, checked []uuid.UUID
	left, anew := map[uuid.UUID]bool{}, map[uuid.UUID]bool{} // treatments that are off the specimens, or stored anew
	on := map[uuid.UUID]map[uuid.UUID][]LayerState{}
	for _, st := range made {
		specimens = append(specimens, st.Specimen)
		on[st.Specimen] = map[uuid.UUID][]LayerState{}
		for _, l := range st.Layers {
			on[st.Specimen][l.Treatment] = append(on[st.Specimen][l.Treatment], l)
		}
		for _, c := range st.Checked {
			checked = append(checked, c.Record)
		}
	}
	for treatment, layers := range stored {
		if now, ok := on[layers[0].Specimen]; ok && now[treatment] == nil {
			left[treatment] = true
		}
	}
	var changed []SpecimenState
	for _, st := range made {
		different := st
		different.Layers = nil
		for treatment, layers := range on[st.Specimen] {
			same := func(l storedLayer, now LayerState) bool { return l.same(st.Specimen, now) }
			if !slices.EqualFunc(stored[treatment], layers, same) {
				anew[treatment], different.Layers = true, append(different.Layers, layers...)
			}
		}
		changed = append(changed, different)
	}
	if len(anew) > 0 {
		treatments := slices.SortedFunc(maps.Keys(anew), compareIDs)
		b.Queue(`delete from layer_material where institution_id = $1 and treatment_id = any($2)`, b.institution, treatments)
		b.Queue(`delete from layer_state where institution_id = $1 and treatment_id = any($2)`, b.institution, treatments)
	}
	if len(left) > 0 {
		// Another worker may have stored by now that they are on a specimen of its own.
		b.Queue(`
			with gone as (
				delete from layer_state where institution_id = $1 and treatment_id = any($2) and specimen_id = any($3)
				returning treatment_id)
			delete from layer_material where institution_id = $1 and treatment_id in (select treatment_id from gone)`,
			b.institution, slices.SortedFunc(maps.Keys(left), compareIDs), specimens)
	}
	if len(checked) > 0 {
		b.Queue(`delete from finding where institution_id = $1 and record_id = any($2)`, b.institution, checked)
	}
	b.Queue(takeBack, b.institution, specimens)
	for _, st := range changed {
		b.putState(st)
	}
}

func (b *batch) putState(st SpecimenState) {
	for _, l := range st.Layers {
		b.put(layerStateTable, st.Specimen, l.Treatment, l.Position, l.Role, l.State, l.Redissolvable, l.Removable,
			l.Retreatable, l.Body, texts(l.Areas))
		for _, m := range l.Materials {
			b.put(layerMaterialTable, l.Treatment, l.Position, m)
		}
	}
	for _, c := range st.Checked {
		b.putFindings(c.Record, at(c.Findings, st.Sequence))
		b.put(treatmentCheckTable, c.Record, c.Revision, st.Sequence)
	}
}
