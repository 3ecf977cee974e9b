package postgres

// The tables that grow with the record. Those that a row names come before its
// own, because what one statement names must be there when it ends.
var (
	entryTable = newTable("entry", []string{"id uuid", "kind text", "record_id uuid", "revision int", "act text", "request_id uuid", "recorded_by uuid",
		"source_system text", "source_id text", "nonce bytea", "digest bytea", "body text"},
		`returning t.id, t.recorded_at`)
	restoredEntryTable = newTable("entry", []string{"id uuid", "kind text", "record_id uuid", "revision int", "act text", "request_id uuid", "recorded_at timestamptz",
		"recorded_by uuid", "source_system text", "source_id text", "nonce bytea", "digest bytea", "body text"}, ``)
	unsealedTable      = newTable("unsealed", []string{"entry_id uuid"}, ``)
	restoredPlaceTable = newTable("restored_place", []string{"seq bigint", "entry_id uuid", "record_id uuid", "sealed_at timestamptz"}, ``)

	personTable = newTable("person", []string{"id uuid", "revision int", "display_name text", "folded_name text"}, `
		on conflict (id, institution_id) do update set revision = excluded.revision, retracted = false,
			display_name = excluded.display_name, folded_name = excluded.folded_name`)

	specimenTable = newTable("specimen", []string{"id uuid", "revision int", "collection text", "body_kind text", "parent_id uuid"}, `
		on conflict (id, institution_id) do update set revision = excluded.revision, retracted = false,
			collection = excluded.collection, body_kind = excluded.body_kind, parent_id = excluded.parent_id`)
	identifierTable = newTable("specimen_identifier",
		[]string{"specimen_id uuid", "position int", "kind text", "value text", "folded text", "plain text", "collection text"}, ``)

	treatmentTable = newTable("treatment", []string{"id uuid", "revision int", "specimen_id uuid", "joined_to_id uuid", "action text",
		"earliest date", "latest date", "event_id uuid", "plan_id uuid"}, `
		on conflict (id, institution_id) do update set revision = excluded.revision, retracted = false,
			specimen_id = excluded.specimen_id, joined_to_id = excluded.joined_to_id, action = excluded.action,
			earliest = excluded.earliest, latest = excluded.latest, event_id = excluded.event_id, plan_id = excluded.plan_id`)
	candidateTable = newTable("treatment_use_candidate", []string{"treatment_id uuid", "position int", "material_id text"}, `on conflict do nothing`)
	removesTable   = newTable("treatment_removes", []string{"treatment_id uuid", "removed_id uuid"}, `on conflict do nothing`)

	// Treatments, plans and batches have some of these each.
	areaTables   = map[string]*table{"treatment": areaTable("treatment"), "plan": areaTable("plan")}
	personTables = map[string]*table{"treatment": involvedTable("treatment"), "plan": involvedTable("plan"), "batch": involvedTable("batch")}
	useTables    = map[string]*table{"treatment": useTable("treatment"), "plan": useTable("plan")}

	findingTable = newTable("finding", []string{"record_id uuid", "position int", "rule text", "severity text", "area text", "layers text:uuid[]",
		"sentence text", "remedy text", "source text", "as_of_seq bigint"}, ``)
	treatmentCheckTable = newTable("treatment_check", []string{"treatment_id uuid", "revision int", "as_of_seq bigint"},
		`on conflict (treatment_id, institution_id) do update set revision = excluded.revision, as_of_seq = excluded.as_of_seq`)
	specimenStateTable = newTable("specimen_state", []string{"specimen_id uuid", "as_of_seq bigint", "computed_on date"},
		`on conflict (specimen_id, institution_id) do update set as_of_seq = excluded.as_of_seq, computed_on = excluded.computed_on`)
	layerStateTable = newTable("layer_state", []string{"specimen_id uuid", "treatment_id uuid", "position int", "role text", "state text",
		"redissolvable text", "removable text", "retreatable text", "body text"}, `on conflict (treatment_id, institution_id, position) do nothing`)
	layerMaterialTable = newTable("layer_material", []string{"treatment_id uuid", "position int", "material_id text"},
		`on conflict (treatment_id, institution_id, position, material_id) do nothing`)
	importLineTable = newTable("import_line", []string{"import_id uuid", "line bigint", "outcome text", "raw text", "reasons text", "doubts text", "treatment_id uuid"},
		`on conflict do nothing`)
)

func areaTable(of string) *table {
	return newTable(of+"_area", []string{of + "_id uuid", "path text"}, `on conflict do nothing`)
}

func involvedTable(of string) *table {
	return newTable(of+"_person", []string{of + "_id uuid", "position int", "person_id uuid", "part text"}, ``)
}

func useTable(of string) *table {
	return newTable(of+"_use", []string{of + "_id uuid", "position int", "role text", "batch_id uuid", "supply_id uuid", "material_id text", "words text", "certainty text"}, ``)
}
