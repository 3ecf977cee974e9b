package postgres

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"
)

// LayerState is what is stored of one layer for reports.
type LayerState struct {
	Treatment     uuid.UUID `db:"treatment_id"`
	Position      int       `db:"position"`
	Role          string    `db:"role"`
	State         string    `db:"state"`
	Redissolvable string    `db:"redissolvable"`
	Removable     string    `db:"removable"`
	Retreatable   string    `db:"retreatable"`
	Body          string    `db:"body"`
	Areas         []string  `db:"areas"` // that it reaches, empty if unknown
	Materials     []string  `db:"-"`     // those that it consists or may consist of
}

// Checked are the findings of one revision of a treatment or a plan.
type Checked struct {
	Record   uuid.UUID
	Revision int
	Findings []Finding
}

// SpecimenState is what is stored of one specimen, computed at one sequence number.
type SpecimenState struct {
	Specimen   uuid.UUID
	Sequence   int64
	ComputedOn time.Time
	Layers     []LayerState
	Checked    []Checked
}

// SavePlanCheck replaces the findings of a plan, which were computed at a sequence
// number.
func (s Tenant) SavePlanCheck(ctx context.Context, c Checked, sequence int64) error {
	b := newBatch(s.institution)
	p := Projector{batch: b, record: c.Record, revision: c.Revision}
	p.Findings(at(c.Findings, sequence))
	b.Queue(`
		insert into plan_check (institution_id, plan_id, revision, as_of_seq) values ($1, $2, $3, $4)
		on conflict (plan_id, institution_id) do update set revision = excluded.revision, as_of_seq = excluded.as_of_seq`,
		s.institution, c.Record, c.Revision, sequence)
	b.Queue(takeBack, s.institution, []uuid.UUID{c.Record})
	return s.run(ctx, b)
}

func at(found []Finding, sequence int64) []Finding {
	for i := range found {
		found[i].AsOfSeq = &sequence
	}
	return found
}

// KeptStates gives the stored layers of specimens, in their order, and when they were
// computed.
func (s Tenant) KeptStates(ctx context.Context, specimens []uuid.UUID) ([]SpecimenState, error) {
	type head struct {
		Seq        int64     `db:"as_of_seq"`
		ComputedOn time.Time `db:"computed_on"`
	}
	states := make([]SpecimenState, len(specimens))
	b := newBatchPlannedAnew(s.institution)
	for i, specimen := range specimens {
		st := &states[i]
		st.Specimen = specimen
		var heads []head
		queueInto(b, func(heads []head) {
			if len(heads) > 0 {
				st.Sequence, st.ComputedOn = heads[0].Seq, heads[0].ComputedOn
			}
		}, &heads, `select as_of_seq, computed_on from specimen_state where institution_id = $1 and specimen_id = $2`,
			s.institution, specimen)
		queue(b, &st.Layers, `
			select treatment_id, position, role, state, redissolvable, removable, retreatable, body, areas from layer_state
			 where institution_id = $1 and specimen_id = $2 order by treatment_id, position`, s.institution, specimen)
	}
	return states, s.run(ctx, b)
}

// CheckedRevision gives the revision of a treatment or a plan that was checked, 0 if
// none was.
func (s Tenant) CheckedRevision(ctx context.Context, id uuid.UUID) (int, error) {
	type row struct{ Revision int }
	rows, err := collect[row](ctx, s, `
		select revision from treatment_check where institution_id = $1 and treatment_id = $2
		union all
		select revision from plan_check where institution_id = $1 and plan_id = $2`, s.institution, id)
	if err != nil || len(rows) == 0 {
		return 0, err
	}
	return rows[0].Revision, nil
}

// Unseen is what was sequenced after the layers' cursor.
type Unseen struct {
	// Upto is the last sequence number of it; zero when there is nothing.
	Upto int64
	// Specimens are a page of the specimens that the entries concern. Beyond is where
	// the next page begins, and More tells whether there may be one.
	Specimens []uuid.UUID
	Beyond    uuid.UUID
	More      bool
	// All says that the entries concern more batches or uses of them than are followed,
	// and that the pages therefore list all specimens.
	All bool
	// Treatments are those that were recorded or changed, with the specimen.
	Treatments []UnseenTreatment
	// Plans are those that were recorded or changed.
	Plans []uuid.UUID
}

// UnseenTreatment is a treatment that was recorded or changed after the cursor, with
// its revision in force.
type UnseenTreatment struct {
	ID       uuid.UUID `db:"id"`
	Specimen uuid.UUID `db:"specimen_id"`
	Revision int       `db:"revision"`
}

// Look selects what LayersUnseen reads.
type Look struct {
	After *int64 // read after this sequence number; the layers' cursor if nil
	Upto  int64  // the last sequence number to read, or 0 for no bound
	// Entries and Specimens are how many are read at most.
	Entries, Specimens int
	// Followed is how many batches, and how many uses of them, are followed at most; 0
	// means MostFollowed.
	Followed int
	// Beyond is where the page before ended, or the zero id.
	Beyond uuid.UUID
}

// MostFollowed is how many batches are followed from entries to what was made from
// them, and how many of their uses.
const MostFollowed = 50_000

// LayersUnseen gives what the next entries of an institution concern: the treatments
// and plans, and a page of the specimens. An entry that is recorded between two pages
// concerns its specimens anew when its turn comes.
func (s Tenant) LayersUnseen(ctx context.Context, look Look) (Unseen, error) {
	var u Unseen
	var rows []concernedRow
	b := newBatchPlannedAnew(s.institution)
	queue(b, &rows, unseenEntries+unseenSpecimens, s.institution, look.Entries, look.After, look.Upto,
		cmp.Or(look.Followed, MostFollowed), look.Beyond, look.Specimens)
	if err := s.run(ctx, b); err != nil {
		return u, err
	}
	listed := 0
	for _, row := range rows {
		switch row.What {
		case "upto":
			u.Upto = row.Number
		case "treatment":
			u.Treatments = append(u.Treatments, UnseenTreatment{ID: row.ID, Specimen: row.Survivor, Revision: int(row.Number)})
		case "plan":
			u.Plans = append(u.Plans, row.ID)
		default:
			listed++
			u.Beyond, u.Specimens, u.All = row.ID, append(u.Specimens, row.Survivor), row.Number > 0
		}
	}
	u.More = listed == look.Specimens
	slices.SortFunc(u.Specimens, compareIDs)
	u.Specimens = slices.Compact(u.Specimens)
	return u, nil
}

// concernedRow is one thing that the next entries concern: the last of them, a treatment or a
// plan, or a specimen with the record that stands for it.
type concernedRow struct {
	What         string
	ID, Survivor uuid.UUID
	Number       int64
}

type idRow struct{ ID uuid.UUID }

// unseenEntries are the next entries, and down the batches whose contents or strength
// may differ because of them: those that were amended or made from amended ones; those
// whose strength an entry is about; and those that had changed in strength and from
// which an entry takes, or took before it was amended: the amount that was there then
// decides the strength. At most $5 + 1 batches are followed.
const unseenEntries = `
	with recursive fresh as materialized (
		select p.seq, e.kind, e.record_id, e.revision
		  from sequenced p ` + ofSequence + `
		 where p.institution_id = $1 and p.seq > coalesce($3::bigint,
		                                                  (select seq from layers_cursor where institution_id = $1), 0)
		   and ($4::bigint = 0 or p.seq <= $4)
		 order by p.seq limit $2
	), was as (
		select f.kind, e.body::jsonb -> 'statement' as statement
		  from fresh f join entry e on e.institution_id = $1 and e.record_id = f.record_id and e.revision = f.revision - 1
		 where f.kind in ('amount-change', 'batch', 'treatment') and e.body is not null
	), drawn_on(id) as (
		select unnest(array[c.batch_id, c.with_batch_id]) from fresh f
		  join amount_change c on c.institution_id = $1 and c.id = f.record_id where f.kind = 'amount-change'
		union
		select i.from_batch_id from fresh f join batch_input i on i.institution_id = $1 and i.batch_id = f.record_id
		 where f.kind = 'batch'
		union
		select u.batch_id from fresh f join treatment_use u on u.institution_id = $1 and u.treatment_id = f.record_id
		 where f.kind = 'treatment'
		union
		select (jsonb_path_query(w.statement, '$.inputs[*].from.batch.id') #>> '{}')::uuid from was w where w.kind = 'batch'
		union
		select (jsonb_path_query(w.statement, '$.materials[*].used.batch.id') #>> '{}')::uuid from was w
		 where w.kind = 'treatment'
	), down(id) as (
		select f.record_id from fresh f where f.kind = 'batch' and f.revision > 1
		union all
		select w.batch_id from fresh f join went_into w on w.institution_id = $1 and w.supply_id = f.record_id
		 where f.kind = 'supply' and f.revision > 1
		union all
		select w.batch_id from fresh f join went_into w on w.institution_id = $1 and w.material_id = f.record_id::text
		 where f.kind = 'material'
		union all
		select w.batch_id from fresh f join supply s on s.institution_id = $1 and s.material_id = f.record_id::text
		  join went_into w on w.institution_id = $1 and w.supply_id = s.id where f.kind = 'material'
		union all
		select c.batch_id from fresh f join amount_change c on c.institution_id = $1 and c.id = f.record_id
		 where f.kind = 'amount-change' and (f.revision > 1 or c.kind in ` + changesStrength + `)
		union all
		select (jsonb_path_query(w.statement, '$.batch.id') #>> '{}')::uuid from was w where w.kind = 'amount-change'
		union all
		select d.id from drawn_on d where exists (
			select from amount_change c where c.institution_id = $1 and c.batch_id = d.id
			   and not c.retracted and c.kind in ` + changesStrength + `)
		union
		select w.batch_id from down join went_into w on w.institution_id = $1 and w.from_batch_id = down.id
	), reached as materialized (
		select id from down limit $5::int + 1
	) `

// unseenSpecimens are the specimens that the entries concern: a specimen itself, those
// that a treatment is on, joins or was on, and those that an amended batch, supply or
// own material reached; with each the record that stands for it, the one that did
// before a merge was undone, and the parts that inherit from it. Where more batches or
// uses are concerned than are followed, they are all specimens. A page has $7 of them
// and begins after $6.
var unseenSpecimens = `
	, used(id) as materialized (
		select * from (
			select t.specimen_id from reached r
			 cross join lateral (select treatment_id from treatment_use
			                      where institution_id = $1 and batch_id = r.id offset 0) u
			 cross join lateral (select specimen_id from treatment
			                      where institution_id = $1 and id = u.treatment_id offset 0) t
			union all
			select t.specimen_id from fresh f join treatment_use u on u.institution_id = $1 and u.supply_id = f.record_id
			  join treatment t on t.institution_id = $1 and t.id = u.treatment_id where f.kind = 'supply' and f.revision > 1
			union all
			select l.specimen_id from fresh f
			  join layer_material m on m.institution_id = $1 and m.material_id = f.record_id::text
			  join layer_state l on l.institution_id = $1 and l.treatment_id = m.treatment_id where f.kind = 'material') x
		 limit $5::int + 1
	), beyond(met) as materialized (
		select (select count(*) from reached) > $5 or (select count(*) from used) > $5
	), said(id) as (
		select f.record_id as id from fresh f where f.kind = 'specimen'
		union all
		select (e.body::jsonb ->> 'mergedInto')::uuid from fresh f
		  join entry e on e.institution_id = $1 and e.record_id = f.record_id and e.revision = f.revision - 1
		 where f.kind = 'specimen' and e.body is not null
		union all
		select t.specimen_id from fresh f join treatment t on t.institution_id = $1 and t.id = f.record_id
		 where f.kind = 'treatment'
		union all
		select t.joined_to_id from fresh f join treatment t on t.institution_id = $1 and t.id = f.record_id
		 where f.kind = 'treatment'
		union all
		select unnest(inheritors_of($1, t.id, t.specimen_id)) from fresh f
		  join treatment t on t.institution_id = $1 and t.id = f.record_id
		 where f.kind = 'treatment' and ` + hasKin("t.specimen_id") + `
		union all
		select w.specimen_id from fresh f join treatment_was_on w on w.institution_id = $1 and w.treatment_id = f.record_id
		 where f.kind = 'treatment'
		union all
		select id from used
		union all
		select id from (select s.id from beyond b join specimen s on s.institution_id = $1 and s.id > $6
		                 where b.met order by s.id limit $7) every
	), concerned(id) as (
		select id from said where id is not null
		union
		select n.id from concerned c cross join lateral (
			select s.merged_into as id from specimen s where s.institution_id = $1 and s.id = c.id and s.merged_into is not null
			union all
			select s.id from specimen s where s.institution_id = $1 and s.parent_id = c.id and s.part_areas is not null) n
	), listed(id) as materialized (
		select id from concerned where id > $6 order by id limit $7
	)
	select 'specimen' as what, l.id, survivor_of($1, l.id) as survivor, b.met::int::bigint as number
	  from listed l cross join beyond b
	union all
	select 'upto', $6, $6, coalesce(max(seq), 0) from fresh
	union all
	select distinct f.kind, t.id, survivor_of($1, t.specimen_id), t.revision from fresh f
	  join treatment t on t.institution_id = $1 and t.id = f.record_id where f.kind = 'treatment' and not t.retracted
	union all
	select distinct f.kind, p.id, p.id, 0 from fresh f
	  join plan p on p.institution_id = $1 and p.id = f.record_id where f.kind = 'plan' and not p.retracted
	 order by 1, 2`

// LayersSeen stores the layers' cursor of an institution.
func (s Tenant) LayersSeen(ctx context.Context, seq int64) error {
	b := newBatch(s.institution)
	b.Queue(`insert into layers_cursor (institution_id, seq) values ($1, $2)
		on conflict (institution_id) do update set seq = greatest(layers_cursor.seq, excluded.seq), trying = '{}'`,
		s.institution, seq)
	return s.run(ctx, b)
}

// Watch finds the institutions that have entries after the layers' cursor. It uses the
// worker's role, which sees all institutions.
type Watch struct{ pool *pgxpool.Pool }

// OpenWatch connects with the worker's role. The caller closes the watch.
func OpenWatch(ctx context.Context, dsn string) (*Watch, error) {
	pool, err := openPool(ctx, dsn, workerRoleConnections, workerLockLimit)
	if err != nil {
		return nil, err
	}
	return &Watch{pool: pool}, nil
}

// Close ends the watch's connections.
func (w *Watch) Close() { w.pool.Close() }

// Behind lists the institutions that have sequence numbers beyond their cursor.
func (w *Watch) Behind(ctx context.Context) ([]uuid.UUID, error) {
	rows, err := w.pool.Query(ctx, `
		select i.id from institution i left join layers_cursor c on c.institution_id = i.id
		 where exists (select from sequenced p where p.institution_id = i.id and p.seq > coalesce(c.seq, 0)) order by i.id`)
	if err != nil {
		return nil, fmt.Errorf("asking what is behind: %w", err)
	}
	return pgx.CollectRows(rows, pgx.RowTo[uuid.UUID])
}

// StaleState is a specimen whose layers were computed on an earlier day.
type StaleState struct {
	Institution uuid.UUID `db:"institution_id"`
	Specimen    uuid.UUID `db:"specimen_id"`
}

// Stale lists at most limit specimens whose layers were computed before a day; those of
// a merged specimen are stored with the record that stands for it. It leaves out the
// given institutions, and what is set aside, which DueAsides lists.
func (w *Watch) Stale(ctx context.Context, day time.Time, without []uuid.UUID, limit int) ([]StaleState, error) {
	rows, err := w.pool.Query(ctx, `
		select ss.institution_id, ss.specimen_id from specimen_state ss
		  join specimen s on s.id = ss.specimen_id and s.institution_id = ss.institution_id and s.merged_into is null
		 where ss.computed_on < $1 and ss.institution_id <> all($2)
		   and not exists (select from set_aside a
		                    where a.institution_id = ss.institution_id and a.record_id = ss.specimen_id)
		 order by ss.computed_on limit $3`, day, without, limit)
	if err != nil {
		return nil, fmt.Errorf("asking what is of an earlier day: %w", err)
	}
	return pgx.CollectRows(rows, pgx.RowToStructByName[StaleState])
}
