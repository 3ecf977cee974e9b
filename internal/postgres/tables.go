package postgres

// The tables that grow with the record, beside those of its kinds (kinds.go).
var (
	entryTable = newTable("entry", []string{"id uuid", "kind text", "record_id uuid", "revision int", "act text",
		"request_id uuid", "recorded_by uuid",
		"source_system text", "source_id text", "nonce bytea", "digest bytea", "body text"},
		`returning t.id, t.recorded_at`)
	restoredEntryTable = newTable("entry", []string{"id uuid", "kind text", "record_id uuid", "revision int", "act text",
		"request_id uuid", "recorded_at timestamptz",
		"recorded_by uuid", "source_system text", "source_id text", "nonce bytea", "digest bytea", "body text"}, ``)
	unsealedTable         = newTable("unsealed", []string{"entry_id uuid"}, ``)
	restoredSequenceTable = newTable("restored_sequence", []string{
		"seq bigint", "entry_id uuid", "record_id uuid", "sealed_at timestamptz", "hashes bytea",
	}, ``)

	findingTable = newTable("finding", []string{"record_id uuid", "position int", "rule text", "severity text",
		"area text", "layers text:uuid[]",
		"sentence text", "remedy text", "source text", "as_of_seq bigint", "unanswerable boolean", "traits text:text[]"}, ``)
	treatmentCheckTable = newTable("treatment_check", []string{"treatment_id uuid", "revision int", "as_of_seq bigint"},
		`on conflict (treatment_id, institution_id) do update set revision = excluded.revision,
			as_of_seq = excluded.as_of_seq`)
	specimenStateTable = newTable("specimen_state", []string{"specimen_id uuid", "as_of_seq bigint", "computed_on date"},
		`on conflict (specimen_id, institution_id) do update set as_of_seq = excluded.as_of_seq,
			computed_on = excluded.computed_on where t.as_of_seq <= excluded.as_of_seq returning t.specimen_id as id`)
	layerStateTable = newTable("layer_state", []string{"specimen_id uuid", "treatment_id uuid", "position int",
		"role text", "state text",
		"redissolvable text", "removable text", "retreatable text", "body text", "areas text:text[]"},
		`on conflict (treatment_id, institution_id, position) do nothing`)
	layerMaterialTable = newTable("layer_material", []string{"treatment_id uuid", "position int", "material_id text"},
		`on conflict (treatment_id, institution_id, position, material_id) do nothing`)
	importLineTable = newTable("import_line", []string{
		"import_id uuid", "line bigint", "outcome text", "raw text", "reasons text", "doubts text", "treatment_id uuid",
	},
		`on conflict do nothing`)
)
