package postgres_test

import (
	"context"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/google/uuid"

	"meniscus/internal/pgtest"
	"meniscus/internal/postgres"
)

// coat is a state of a specimen as of a sequence number, with a layer of each treatment.
func coat(specimen uuid.UUID, sequence int64, treatments ...uuid.UUID) postgres.SpecimenState {
	st := postgres.SpecimenState{Specimen: specimen, Sequence: sequence, ComputedOn: time.Date(2024, 5, 2, 0, 0, 0, 0, time.UTC)}
	for _, treatment := range treatments {
		st.Layers = append(st.Layers, postgres.LayerState{Treatment: treatment, Role: "consolidant", State: "present",
			Redissolvable: "yes", Removable: "partly", Retreatable: "yes", Body: "{}", Areas: []string{"skull"},
			Materials: []string{"resin-1", "resin-2"}})
		st.Checked = append(st.Checked, postgres.Checked{Record: treatment, Revision: 1})
	}
	return st
}

// stored is which treatments have layers on a specimen, and what is known of their materials.
func (k kin) stored(specimen uuid.UUID) (treatments []uuid.UUID, materials int) {
	k.t.Helper()
	err := k.db.QueryRow(k.t.Context(), `
		select coalesce(array_agg(distinct l.treatment_id), '{}'), count(m)
		  from layer_state l left join layer_material m using (institution_id, treatment_id, position)
		 where institution_id = $1 and specimen_id = $2`, k.institution, specimen).Scan(&treatments, &materials)
	if err != nil {
		k.t.Fatal(err)
	}
	return treatments, materials
}

// atOnce has each of the workers store at the same moment, and again for as long as it fails, as
// a worker does in its next turn.
func atOnce(t *testing.T, stores []postgres.Tenant, made ...[]postgres.SpecimenState) {
	t.Helper()
	ctx, cancel := context.WithTimeout(postgres.AsWorker(t.Context()), time.Minute)
	defer cancel()
	var workers sync.WaitGroup
	for i, states := range made {
		workers.Go(func() {
			for stores[i].SaveStates(ctx, states) != nil {
				if ctx.Err() != nil {
					t.Error("a worker could not store its states within a minute")
					return
				}
			}
		})
	}
	workers.Wait()
}

// Two workers that store the same specimen at the same moment leave the layers of the one that
// had seen more, whole, whichever was first. Two that store both specimens of a treatment that
// moves from one to the other leave it on the one that it moved to.
func TestWorkersStoreAtOnce(t *testing.T) {
	t.Parallel()
	const rounds = 25
	db := pgtest.New(t)
	k := kin{t, pgtest.Pool(t, db.Super()), uuid.New()}
	k.specimens(2)
	var stores []postgres.Tenant
	for range 2 {
		store, err := postgres.Open(t.Context(), db.App())
		if err != nil {
			t.Fatal(err)
		}
		defer store.Close()
		stores = append(stores, store.For(k.institution))
	}
	from, to := k.id(0), k.id(1)
	first, second, moved := k.id(1_000_001), k.id(1_000_002), k.id(1_000_003)
	for i := range int64(rounds) {
		sequence := 10 * i
		older := []postgres.SpecimenState{coat(from, sequence+1, first)}
		newer := []postgres.SpecimenState{coat(from, sequence+2, first, second)}
		if i%2 == 1 {
			older, newer = []postgres.SpecimenState{coat(from, sequence+1, first, second)},
				[]postgres.SpecimenState{coat(from, sequence+2, second)}
		}
		atOnce(t, stores, older, newer)
		want := []uuid.UUID{second}
		if i%2 == 0 {
			want = []uuid.UUID{first, second}
		}
		if got, materials := k.stored(from); !slices.Equal(got, want) || materials != 2*len(want) {
			t.Fatalf("round %d: got layers of %v with %d materials, want %v with %d", i, got, materials, want, 2*len(want))
		}
	}
	for i := range int64(rounds) {
		sequence := 1000 + 10*i
		atOnce(t, stores, []postgres.SpecimenState{coat(from, sequence, moved), coat(to, sequence)})
		atOnce(t, stores, []postgres.SpecimenState{coat(from, sequence+1)}, []postgres.SpecimenState{coat(to, sequence+1, moved)})
		left, _ := k.stored(from)
		if got, materials := k.stored(to); !slices.Equal(got, []uuid.UUID{moved}) || materials != 2 || len(left) > 0 {
			t.Fatalf("round %d: got layers of %v with %d materials, and %v where it was; want the one that moved", i,
				got, materials, left)
		}
	}
}
