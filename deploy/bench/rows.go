package main

import (
	"encoding/json"
	"fmt"
	"strings"

	"github.com/google/uuid"

	"meniscus/deploy/bench/caller"
	"meniscus/deploy/bench/seed"
)

// row is a line of the table: requests, and what they are compared with.
type row struct {
	name        string
	path        string
	body        func() any // nil: it is read
	connections int
	writes      bool // and so gives the worker work
	baselines   []baseline
}

// baseline is what Postgres alone does of it, as a script of pgbench.
type baseline struct {
	name        string
	script      string
	connections int
}

// notRun are what this command does not measure. Computations beside their baseline are a benchmark
// of httpapi.
var notRun = []string{
	"record, the request's own statements pipelined: not run", "treatments?area alone: not run",
	"import of cards: not run", "report of everything, 10 million: not run", "layers worker behind writers: not run",
	"feed lag behind 32 writers: not run", "export page: not run",
	"the generic backend, its inserts and its lists: not run", "10 million treatments: not run",
}

func (st *stage) rows() []row {
	r := st.rare
	specimen := seed.Specimen(7)
	get := func(name, path string, baselines ...baseline) row {
		return row{name: name, path: path, connections: 4, baselines: baselines}
	}
	return []row{
		{name: "record a treatment, 32 connections", path: "/v1/treatments", connections: 32, writes: true,
			body:      func() any { return recorded(seed.AnySpecimen(st.size)) },
			baselines: []baseline{{"pgbench, the write transaction alone", st.write(specimen), 32}}},
		{name: "record a treatment, 128 connections", path: "/v1/treatments", connections: 128, writes: true,
			body:      func() any { return recorded(seed.AnySpecimen(st.size)) },
			baselines: []baseline{{"pgbench, the write transaction alone at 32", st.write(specimen), 32}}},
		{name: "compute/make-up", path: "/v1/compute/make-up", connections: 4, body: madeUp},
		{name: "compute/dilute", path: "/v1/compute/dilute", connections: 4, body: diluted},
		get("history of 20", "/v1/specimens/"+r.history+"/treatments?limit=20", baseline{"pgbench, SELECT of the same rows", st.read(`
			select e.* from treatment t join entry e on e.institution_id = t.institution_id and e.record_id = t.id
			   and e.revision = t.revision
			 where t.institution_id = '` + st.museum.Institution.String() + `' and t.specimen_id = '` + r.history + `'
			   and not t.retracted order by t.earliest, t.id limit 20`), 4}),
		get("lookup of a number", "/v1/specimen-lookup?number=LV.2024/1", baseline{"pgbench, SELECT by the number", st.read(`
			select specimen_id from specimen_identifier
			 where institution_id = '` + st.museum.Institution.String() + `' and value = 'LV.2024/1'`), 4}),
		get("treatments?from&until, 13 found", "/v1/treatments?from="+rareMonth+"-01&until="+rareMonth+"-31"),
		get("treatments?material, 13 found", "/v1/treatments?material=shellac"),
		get("treatments?material, a third of all", "/v1/treatments?material=cellulose-nitrate"),
		get("treatments?person&area, 13 found", "/v1/treatments?person="+r.person+"&area="+rareArea),
		get("treatments?person&area, of one in a hundred, none found", "/v1/treatments?person="+seed.Person(7)+"&area="+rareArea),
		get("reversible report of a month, 13 found", "/v1/reports/reversible-treatments?from="+rareMonth+"-01&until="+rareMonth+"-31"),
		{name: "check, 200 layers", path: "/v1/treatment-checks", connections: 4, body: func() any { return proposed(r.layers) }},
		get("removal plan, 200 layers", "/v1/specimens/"+r.layers+"/removal-plan"),
		get("where used, depth 6, 63 batches", "/v1/supplies/"+r.supply+"/where-used"),
		get("present state of 200 layers", "/v1/specimens/"+r.layers+"/present-state"),
		get("first page of the feed", "/v1/changes?limit=100"),
	}
}

// proposed is a treatment that is checked.
func proposed(specimen string) any {
	resin := caller.Object{"id": "ethyl-methacrylate-methyl-acrylate-copolymer", "certainty": "documented",
		"solvents": caller.Array{caller.Object{"id": "acetone", "fraction": 1}}}
	return caller.Object{"treatment": caller.Object{"specimen": caller.Object{"id": specimen}, "action": "consolidation",
		"dates": caller.Object{"edtf": "2026"}, "areas": caller.Object{"paths": caller.Array{"skull"}}, "method": "brush",
		"materials": caller.Array{caller.Object{"used": caller.Object{"material": resin}, "role": "consolidant"}}}}
}

var (
	resin   = caller.Object{"material": "ethyl-methacrylate-methyl-acrylate-copolymer"}
	acetone = caller.Object{"liquid": caller.Object{"material": "acetone"}}
	strong  = caller.Object{"value": 20, "unit": "g/dL", "basis": "mass-per-solution-volume"}
	amount  = caller.Object{"value": 50, "unit": "mL"}
)

// madeUp is a recipe that is asked for.
func madeUp() any {
	return caller.Object{"resin": caller.Object{"solid": resin}, "solvent": acetone, "strength": strong,
		"amount": caller.Object{"finished": amount}}
}

// diluted is a dilution that is asked for.
func diluted() any {
	stock := caller.Object{"solution": caller.Object{"solute": resin, "solvent": acetone, "strength": strong}}
	return caller.Object{"stock": stock, "amount": caller.Object{"onHand": amount},
		"strength": caller.Object{"basis": "parts-by-volume", "parts": caller.Array{1, 3}}}
}

// recorded is a treatment as it is sent, and kept.
func recorded(specimen string) any {
	return caller.Object{"statement": caller.Object{"specimen": caller.Object{"id": specimen}, "action": "cleaning",
		"dates": caller.Object{"edtf": "2020-03-04"}, "areas": caller.Object{"paths": caller.Array{"skull/area-1"}},
		"people":  caller.Array{caller.Object{"person": caller.Object{"id": seed.Person(3)}, "part": "carried-out"}},
		"purpose": caller.Object{"text": "Dust in the sutures"}}}
}

// tenant is what every transaction of the application begins with.
func (st *stage) tenant() string {
	return "select set_config('app.institution', '" + st.museum.Institution.String() + "', true);\n"
}

// read is a transaction that reads.
func (st *stage) read(sql string) string {
	return "begin;\n" + st.tenant() + strings.Join(strings.Fields(sql), " ") + ";\ncommit;\n"
}

// write is the transaction that keeps such a treatment: the entry, its projections and its ticket.
func (st *stage) write(specimen string) string {
	institution, person := st.museum.Institution, seed.Person(3)
	body, _ := json.Marshal(recorded(specimen)) // plain texts cannot fail to encode
	id := `('01a30000-0000-7000-8000-' || lpad(to_hex(:n::bigint), 12, '0'))::uuid`
	return "\\set n random(1, 281474976710655)\nbegin;\n" + st.tenant() + fmt.Sprintf(`
insert into request_key (institution_id, key_sha256, fingerprint, request_id)
values ('%[1]s', sha256(:n::text::bytea), sha256(''), %[4]s);
insert into entry (institution_id, id, kind, record_id, revision, act, request_id, recorded_by, nonce, digest, body)
values ('%[1]s', %[4]s, 'treatment', %[4]s, 1, 'stated', %[4]s, '%[3]s', '\x%[6]s', sha256(''), '%[5]s') returning recorded_at;
insert into treatment (institution_id, id, revision, specimen_id, action, earliest, latest)
values ('%[1]s', %[4]s, 1, '%[2]s', 'cleaning', '2020-03-04', '2020-03-04');
insert into treatment_area (institution_id, treatment_id, path) values ('%[1]s', %[4]s, 'skull/area-1');
insert into treatment_person (institution_id, treatment_id, position, person_id, part) values ('%[1]s', %[4]s, 0, '%[3]s', 'carried-out');
commit;
`, institution, specimen, person, id, body, strings.ReplaceAll(uuid.Nil.String(), "-", ""))
}
