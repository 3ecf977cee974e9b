package postgres

import (
	"slices"
	"strconv"

	"meniscus/internal/edtf"
	"meniscus/internal/record"
)

// The kinds of record. Those that a row names come before its own, because foreign keys
// are checked at the end of each statement.
var (
	people = newKind("person",
		col("display_name text", func(v *record.Person) any { return v.Name }),
		col("folded_name text", func(v *record.Person) any { return record.FoldName(v.Name) }))

	specimens = newKind("specimen",
		col("collection text", func(v *record.Specimen) any { return orNull(v.Collection) }).by("collection"),
		col("body_kind text", func(v *record.Specimen) any { return orNull(v.BodyKind) }).by("bodyKind"),
		col("parent_id uuid", func(v *record.Specimen) any { return ref(v.Parent()) }),
		col("restricted boolean", func(v *record.Specimen) any { return v.Restricted != "" }),
	).narrowed(map[string]Narrowing{
		"parent":   {Asks: AsksID, sql: "t.parent_id in (select records_of($1, ?))"},
		"survivor": {Asks: AsksID, sql: "t.merged_into is not null and t.id in (select records_of($1, ?))"},
	})
	identifierTable = newTable("specimen_identifier",
		[]string{
			"specimen_id uuid", "position int", "kind text", "value text", "folded text", "collection text",
		}, ``)

	supplies = newKind("supply", slices.Concat([]column{
		col("code text", func(v *record.Supply) any { return v.Code }),
		col("material_id text", func(v *record.Supply) any { return orNull(v.Material) }).by("material"),
		col("expiry date", func(v *record.Supply) any { _, latest := bounds(v.Expires.Value); return latest }),
	}, days("received", "received_latest", func(v *record.Supply) edtf.Date { return v.Received.Value }))...,
	).narrowed(map[string]Narrowing{
		"expires":  {Asks: AsksDay, sql: "t.expiry <= ?"},
		"specimen": among(AsksID, usedOn("supply_id")),
	})

	batches = newKind("batch", slices.Concat([]column{
		col("code text", func(v *record.Batch) any { return v.Code }),
		col("kind text", func(v *record.Batch) any { return v.Type }).by("kind"),
	}, days("made_earliest", "made_latest", func(v *record.Batch) edtf.Date { return v.Made.Value }))...,
	).narrowed(map[string]Narrowing{
		"material": among(AsksText, madeOf+" select id from down"),
		"supply":   among(AsksID, "select w.batch_id from went_into w where w.institution_id = $1 and w.supply_id = ?"),
		"batch":    among(AsksID, "select w.batch_id from went_into w where w.institution_id = $1 and w.from_batch_id = ?"),
		"person":   among(AsksID, "select p.batch_id from batch_person p where p.institution_id = $1 and p.person_id = ?"),
		"specimen": among(AsksID, usedOn("batch_id")),
	})
	inputTable = newTable("batch_input", []string{"batch_id uuid", "position int", "part text", "supply_id uuid",
		"from_batch_id uuid",
		"material_id text", "words text", "candidates text:text[]"}, ``)

	amountChanges = newKind("amount_change", slices.Concat([]column{
		col("batch_id uuid", func(v *record.AmountChange) any { return v.Batch }).by("of"),
		col("kind text", func(v *record.AmountChange) any { return v.Type }).by("kind"),
		col("person_id uuid", func(v *record.AmountChange) any { return ref(v.By) }).by("person"),
		col("with_supply_id uuid", func(v *record.AmountChange) any { return ref(with(v).Supply) }).by("supply"),
		col("with_batch_id uuid", func(v *record.AmountChange) any { return ref(with(v).Batch) }).by("batch"),
		col("with_material_id text", func(v *record.AmountChange) any { return orNull(with(v).Material) }),
		col("with_words text", func(v *record.AmountChange) any { return orNull(with(v).Words) }),
		col("with_candidates text:text[]", func(v *record.AmountChange) any { return texts(with(v).Candidates) }),
	}, days("earliest", "latest", func(v *record.AmountChange) edtf.Date { return v.Date.Value }))...,
	).narrowed(map[string]Narrowing{
		"material": {Asks: AsksText, sql: "(t.with_material_id = ? or t.with_supply_id in " +
			"(select s.id from supply s where s.institution_id = $1 and s.material_id = ?))"},
	})

	treatments = newKind("treatment", slices.Concat([]column{
		col("specimen_id uuid", func(v *record.Treatment) any { return v.Specimen }),
		col("joined_to_id uuid", func(v *record.Treatment) any { return ref(v.JoinedTo) }),
		col("action text", func(v *record.Treatment) any { return string(v.Action) }).by("action"),
		col("event_id uuid", func(v *record.Treatment) any { return ref(v.Event) }).by("event"),
		col("plan_id uuid", func(v *record.Treatment) any { return ref(v.Plan.Value) }).by("plan"),
	}, days("earliest", "latest", func(v *record.Treatment) edtf.Date { return v.Date.Value }))...,
	).narrowed(treated("treatment")).narrowed(map[string]Narrowing{
		"specimen": among(AsksID, "select o.id from treatments_on($1, ?) o"),
	})
	candidateTable = newTable("treatment_use_candidate", []string{"treatment_id uuid", "position int", "material_id text"},
		`on conflict do nothing`)
	removesTable = newTable("treatment_removes", []string{"treatment_id uuid", "removed_id uuid"},
		`on conflict do nothing`)

	plans = newKind("plan", slices.Concat([]column{
		col("specimen_id uuid", func(v *record.Plan) any { return v.Treatment.Specimen }),
		col("joined_to_id uuid", func(v *record.Plan) any { return ref(v.Treatment.JoinedTo) }),
		col("action text", func(v *record.Plan) any { return string(v.Treatment.Action) }).by("action"),
		col("authorised boolean", func(v *record.Plan) any { return v.Authorisation.Given }).by("authorised"),
	}, days("earliest", "latest", func(v *record.Plan) edtf.Date { return v.Treatment.Date.Value }))...,
	).narrowed(treated("plan")).narrowed(map[string]Narrowing{
		"specimen": {Asks: AsksID, sql: "(t.specimen_id in (select records_of($1, ?)) or t.joined_to_id in (select records_of($1, ?)))"},
	})

	materials = newKind("material", col("like_id text", func(v *record.Material) any { return orNull(v.Like) }))

	dueTable = newTable("due", []string{"record_id uuid", "what text", "day date"}, ``)

	// Treatments, plans and batches have some of these each.
	areaTables   = map[string]*table{"treatment": areaTable("treatment"), "plan": areaTable("plan")}
	personTables = map[string]*table{
		"treatment": involvedTable("treatment"), "plan": involvedTable("plan"), "batch": involvedTable("batch"),
	}
	useTables = map[string]*table{"treatment": useTable("treatment"), "plan": useTable("plan")}
)

var kinds = map[record.Kind]*kind{
	record.KindPerson: people, record.KindSpecimen: specimens, record.KindSupply: supplies, record.KindBatch: batches,
	record.KindAmountChange: amountChanges, record.KindTreatment: treatments, record.KindPlan: plans,
	record.KindMaterial: materials,
}

func with(v *record.AmountChange) record.Used {
	if v.With == nil {
		return record.Used{}
	}
	return *v.With
}

func areaTable(of string) *table {
	return newTable(of+"_area", []string{of + "_id uuid", "path text"}, `on conflict do nothing`)
}

func involvedTable(of string) *table {
	return newTable(of+"_person", []string{of + "_id uuid", "position int", "person_id uuid", "part text"}, ``)
}

func useTable(of string) *table {
	return newTable(of+"_use", []string{of + "_id uuid", "position int", "role text", "batch_id uuid", "supply_id uuid",
		"material_id text", "words text", "certainty text"}, ``)
}

// treated narrows treatments, and plans as the treatments that they propose.
func treated(table string) map[string]Narrowing {
	child := func(name string) string {
		return "select x." + table + "_id from " + table + "_" + name + " x where x.institution_id = $1 and "
	}
	used := "select x." + table + "_id as of from " + table + "_use x where x.institution_id = $1 and "
	return map[string]Narrowing{
		"area":   {Asks: AsksText, sql: touching(table, "{id}")},
		"batch":  among(AsksID, child("use")+"x.batch_id = ?"),
		"supply": among(AsksID, child("use")+"x.supply_id = ?"),
		"person": among(AsksID, child("person")+"x.person_id = ?"),
		"material": among(AsksText, madeOf+child("use")+"x.material_id = ? union "+
			"select u.of from jar cross join lateral ("+used+"x.supply_id = jar.id offset 0) u union "+
			"select u.of from down cross join lateral ("+used+"x.batch_id = down.id offset 0) u"),
	}
}

// touching keeps a record with this id that is on an area, on a part of it or on one that
// contains it, or whose areas are unknown. Areas are looked up for each record that the other
// filters leave; as an exists, Postgres may read those of all records first.
func touching(table, id string) string {
	return `coalesce((select bool_or(` + overlapping + `) from ` + table + `_area a
		where a.institution_id = $1 and a.` + table + `_id = ` + id + `), true)`
}

// overlapping keeps an area a that is the same as another, contains it or is part of
// it.
const overlapping = `(a.path = ? or a.path = 'whole' or ? = 'whole' or a.path ^@ (? || '/') or ? ^@ (a.path || '/'))`

// madeOf follows a material into its supplies (jar) and what was made from them
// or topped up with them: descent is all of it by its ids, and down the nearest of
// it, up to the limit.
var madeOf = `
	with recursive jar(id) as (
		select s.id from supply s where s.institution_id = $1 and s.material_id = ?
	), descent(id) as (
		select n.id from (
			select w.batch_id as id from went_into w where w.institution_id = $1 and w.material_id = ?
			union
			select w.batch_id from jar cross join lateral (
				select batch_id from went_into where institution_id = $1 and supply_id = jar.id offset 0) w
			order by 1) n
		union
		select n.id from descent cross join lateral (
			select w.batch_id as id from went_into w where w.institution_id = $1 and w.from_batch_id = descent.id order by 1) n
	), down(id) as materialized (
		select id from descent limit ` + strconv.Itoa(mostHolding) + `
	) `

// usedOn keeps the stock that was used on a specimen.
func usedOn(column string) string {
	return "select u." + column + " from treatments_on($1, ?) o join treatment_use u on u.institution_id = $1 " +
		"and u.treatment_id = o.id where not o.retracted and not withheld($1, 'treatment', o.id)"
}

// rows projects a record's rows in other tables.
func (p *Projector) rows(v record.Value) {
	p.due(v)
	switch v := v.(type) {
	case *record.Specimen:
		p.specimenRows(v)
	case *record.Batch:
		p.batchRows(v)
	case *record.Treatment:
		p.treatmentRows(v)
	case *record.Plan:
		p.planRows(v)
	}
}

// wasOn stores which specimens a treatment was on before an amendment moves it.
func (p *Projector) wasOn(t *record.Treatment) {
	p.batch.Queue(`
		insert into treatment_was_on (institution_id, specimen_id, treatment_id)
		select institution_id, specimen_id, id from treatment where institution_id = $1 and id = $2 and specimen_id <> $3
		union
		select institution_id, joined_to_id, id from treatment
		 where institution_id = $1 and id = $2 and joined_to_id is distinct from $4
		   and joined_to_id is not null
		on conflict do nothing`, p.batch.institution, p.record, t.Specimen, refOrNull(t.JoinedTo))
}

// namedBatches are queries of the batches that a record names, by its kind, and what it then is to
// a batch.
var namedBatches = map[record.Kind]struct{ part, sql string }{
	record.KindAmountChange: {partChange, `select n.batch_id from amount_change c
		 cross join lateral unnest(array[c.batch_id, c.with_batch_id]) as n(batch_id) where c.institution_id = $1 and c.id = $2`},
	record.KindBatch: {partTaken, `select from_batch_id from batch_input where institution_id = $1 and batch_id = $2`},
	record.KindTreatment: {partTreatment,
		`select u.batch_id from treatment_use u where u.institution_id = $1 and u.treatment_id = $2`},
}

// wasIn stores which batches a record named before what it says of them is taken out.
func (p *Projector) wasIn(kind record.Kind) {
	if named, any := namedBatches[kind]; any && !p.first {
		p.batch.Queue(`
			insert into batch_was_in (institution_id, batch_id, part, record_id)
			select distinct $1::uuid, n.id, $3, $2::uuid from (`+named.sql+`) as n(id) where n.id is not null
			on conflict do nothing`, p.batch.institution, p.record, named.part)
	}
}

func (p *Projector) specimenRows(v *record.Specimen) {
	p.part(v.Part)
	p.clear("specimen_identifier", "specimen_id")
	for i, id := range v.Identifiers {
		p.batch.put(identifierTable, p.record, i, id.Kind, id.Value, record.Fold(id.Value), orNull(v.Collection))
	}
	if v.Part != nil {
		p.stood()
	}
}

func (p *Projector) batchRows(v *record.Batch) {
	p.clear("batch_input", "batch_id")
	for i, in := range v.Inputs.Value {
		p.batch.put(inputTable, p.record, i, in.Part, ref(in.Supply), ref(in.Batch), orNull(in.Material), orNull(in.Words),
			texts(in.Candidates))
	}
	p.people("batch", v.People.Value)
}

func (p *Projector) treatmentRows(v *record.Treatment) {
	p.areas("treatment", v.Areas.Value)
	p.people("treatment", v.People)
	p.clear("treatment_use_candidate", "treatment_id")
	p.uses("treatment", v.Uses.Value)
	for i, use := range v.Uses.Value {
		for _, candidate := range use.Candidates {
			p.batch.put(candidateTable, p.record, i, candidate)
		}
	}
	p.clear("treatment_removes", "treatment_id")
	for _, removed := range v.Removes() {
		p.batch.put(removesTable, p.record, removed)
	}
}

// planRows are those of the treatment that a plan proposes; its people are those
// who would do it and those who propose it.
func (p *Projector) planRows(v *record.Plan) {
	t := &v.Treatment
	p.areas("plan", t.Areas.Value)
	p.people("plan", slices.Concat(t.People, v.ProposedBy.Value))
	p.uses("plan", t.Uses.Value)
}
