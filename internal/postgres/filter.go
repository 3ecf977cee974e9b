package postgres

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"github.com/google/uuid"

	"meniscus/internal/record"
)

// Filter narrows a list of records of one kind.
type Filter struct {
	Kind record.Kind
	// By is what is asked for, by the name that the contract gives it: an id, a
	// day, a text or a truth. A name that the kind is not narrowed by keeps nothing.
	By map[string]any
	// State chooses by what became of the record; "" is InForce.
	State State
}

// State is what became of a record.
type State string

// The states that a list can be narrowed to.
const (
	InForce   State = "in-force"
	Retracted State = "retracted"
	Merged    State = "merged" // a specimen that another one stands for
	AnyState  State = "any"
)

// conditions are the conditions of a query with their arguments.
type conditions struct {
	texts []string
	args  []any
}

// arg adds an argument and gives its place.
func (w *conditions) arg(v any) string {
	w.args = append(w.args, v)
	return fmt.Sprintf("$%d", len(w.args))
}

// and adds a condition; each ? stands for the one argument.
func (w *conditions) and(condition string, v any) {
	w.texts = append(w.texts, strings.ReplaceAll(condition, "?", w.arg(v)))
}

func (w *conditions) sql() string { return strings.Join(w.texts, " and ") }

// where gives the filter's conditions on t, the kind's projection; $1 is the
// institution.
func (f Filter) where(institution uuid.UUID) *conditions {
	w := &conditions{}
	w.and("t.institution_id = ?", institution)
	w.texts = append(w.texts, f.standing()...)
	for _, name := range slices.Sorted(maps.Keys(f.By)) {
		condition, known := narrowing[f.Kind][name]
		if !known {
			condition = "? is null"
		}
		w.and(condition, f.By[name])
	}
	return w
}

// standing gives the conditions of the state.
func (f Filter) standing() []string {
	switch {
	case f.State == AnyState:
		return nil
	case f.State == Retracted:
		return []string{"t.retracted"}
	case f.State == Merged:
		return []string{"not t.retracted", "t.merged_into is not null"}
	case f.Kind == record.KindSpecimen:
		return []string{"not t.retracted", "t.merged_into is null"}
	}
	return []string{"not t.retracted"}
}

// Narrows tells whether the kind is narrowed by what is asked for under a name.
func (f Filter) Narrows(name string) bool {
	_, known := narrowing[f.Kind][name]
	return known
}

// narrowing is what each kind is narrowed by, each with its condition on t, in
// which ? stands for what is asked for and $1 for the institution.
var narrowing = map[record.Kind]map[string]string{
	record.KindPerson: {},
	record.KindSpecimen: {
		"parent":     "t.parent_id in (select records_of($1, ?))",
		"collection": "t.collection = ?",
		"bodyKind":   "t.body_kind = ?",
		"survivor":   "t.merged_into is not null and t.id in (select records_of($1, ?))",
	},
	record.KindSupply: with(dated("t.received", "t.received_latest"), map[string]string{
		"material": "t.material_id = ?",
		"expires":  "t.expiry <= ?",
		"specimen": usedOn("supply_id"),
	}),
	record.KindBatch: with(dated("t.made_earliest", "t.made_latest"), map[string]string{
		"kind":     "t.kind = ?",
		"material": "t.id in (" + madeOf + " select id from down)",
		"supply":   "t.id in (select w.batch_id from went_into w where w.institution_id = $1 and w.supply_id = ?)",
		"batch":    "t.id in (select w.batch_id from went_into w where w.institution_id = $1 and w.from_batch_id = ?)",
		"person":   "t.id in (select p.batch_id from batch_person p where p.institution_id = $1 and p.person_id = ?)",
		"specimen": usedOn("batch_id"),
	}),
	record.KindAmountChange: with(dated("t.earliest", "t.latest"), map[string]string{
		"of":       "t.batch_id = ?",
		"kind":     "t.kind = ?",
		"person":   "t.person_id = ?",
		"supply":   "t.with_supply_id = ?",
		"batch":    "t.with_batch_id = ?",
		"material": "(t.with_material_id = ? or t.with_supply_id in (select s.id from supply s where s.institution_id = $1 and s.material_id = ?))",
	}),
	record.KindTreatment: with(dated("t.earliest", "t.latest"), treated("treatment"), map[string]string{
		"specimen": "t.id in (select o.id from treatments_on($1, ?) o)",
		"event":    "t.event_id = ?",
		"plan":     "t.plan_id = ?",
	}),
	record.KindPlan: with(dated("t.earliest", "t.latest"), treated("plan"), map[string]string{
		"specimen":   "(t.specimen_id in (select records_of($1, ?)) or t.joined_to_id in (select records_of($1, ?)))",
		"authorised": "t.authorised = ?",
	}),
	record.KindMaterial: {},
}

func with(tables ...map[string]string) map[string]string {
	all := map[string]string{}
	for _, table := range tables {
		maps.Copy(all, table)
	}
	return all
}

// dated narrows by a date's bounds: from and until keep what may have happened
// then, notBefore and notAfter what certainly did.
func dated(earliest, latest string) map[string]string {
	return map[string]string{
		"from":      "(" + latest + " is null or " + latest + " >= ?)",
		"until":     "(" + earliest + " is null or " + earliest + " <= ?)",
		"notBefore": earliest + " >= ?",
		"notAfter":  latest + " <= ?",
	}
}

// treated narrows treatments, and plans as the treatments that they propose.
func treated(table string) map[string]string {
	child := func(name string) string {
		return "select x." + table + "_id from " + table + "_" + name + " x where x.institution_id = $1 and "
	}
	return map[string]string{
		"action":   "t.action = ?",
		"area":     touching(table),
		"batch":    "t.id in (" + child("use") + "x.batch_id = ?)",
		"supply":   "t.id in (" + child("use") + "x.supply_id = ?)",
		"person":   "t.id in (" + child("person") + "x.person_id = ?)",
		"material": "t.id in (" + madeOf + child("use") + "x.material_id = ? union " + child("use") + "x.supply_id in (select id from jar) union " + child("use") + "x.batch_id in (select id from down))",
	}
}

// touching keeps what is on an area, a part of it or one that it lies in, and
// what nobody knows the areas of.
func touching(table string) string {
	areas := "select from " + table + "_area a where a.institution_id = $1 and a." + table + "_id = t.id"
	return `(not exists (` + areas + `) or exists (` + areas + ` and
		(a.path = ? or a.path = 'whole' or ? = 'whole' or a.path ^@ (? || '/') or ? ^@ (a.path || '/'))))`
}

// madeOf follows a material into its supplies (jar) and what was made from them
// or topped up with them (down).
const madeOf = `
	with recursive jar(id) as (
		select s.id from supply s where s.institution_id = $1 and s.material_id = ?
	), down(id) as (
		select w.batch_id from went_into w where w.institution_id = $1 and w.material_id = ?
		union
		select w.batch_id from jar join went_into w on w.institution_id = $1 and w.supply_id = jar.id
		union
		select w.batch_id from down join went_into w on w.institution_id = $1 and w.from_batch_id = down.id
	) `

// usedOn keeps the stock that was used on a specimen.
func usedOn(column string) string {
	return "t.id in (select u." + column + " from treatments_on($1, ?) o join treatment_use u on u.institution_id = $1 and u.treatment_id = o.id where not o.retracted)"
}
