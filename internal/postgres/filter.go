package postgres

import (
	"context"
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
	// By holds the values of filters by the name that the contract gives them: one of
	// the kind's Narrowings.
	By map[string]any
	// State selects records by their state; "" is InForce.
	State State

	withholding bool // for whom some records are withheld: see tells
}

// tells tells whether what a filter asks for is told of a record that is withheld. Such a record is
// kept by every other filter, because it may be what is asked for: nobody learns by asking.
func (f Filter) tells(name string) bool {
	return !f.withholding || !withholdable[f.Kind] || name == "specimen" || name == "collection" || name == "survivor"
}

// withholdable are the kinds of record that may be withheld.
var withholdable = map[record.Kind]bool{record.KindSpecimen: true, record.KindTreatment: true, record.KindPlan: true}

// readFor is the filter for whom a context reads: in an institution in which nothing is restricted,
// the same for all.
func (s Tenant) readFor(ctx context.Context, f Filter) (Filter, error) {
	if !withholdable[f.Kind] {
		return f, nil
	}
	var err error
	f.withholding, err = s.AnyWithheld(ctx)
	return f, err
}

// State is the state of a record: in force, retracted or merged.
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

// arg adds an argument and gives its placeholder.
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
// institution. A range of days is looked up by index.
func (f Filter) where(institution uuid.UUID) *conditions {
	w := f.conditions(institution)
	if earliest := kinds[f.Kind].earliest; earliest != "" && f.tells("from") {
		w.between(earliest, f.By["from"], f.By["until"])
	}
	return w
}

// conditions gives the conditions that each row of t must meet; $1 is the institution.
func (f Filter) conditions(institution uuid.UUID) *conditions {
	w := &conditions{}
	w.and("t.institution_id = ?", institution)
	w.texts = append(w.texts, f.standing()...)
	for _, name := range slices.Sorted(maps.Keys(f.By)) {
		w.and(f.orWithheld(name, kinds[f.Kind].filters[name].on("t.id"), "t.id"), f.By[name])
	}
	return w
}

// orWithheld is a filter's condition on the record with this id.
func (f Filter) orWithheld(name, condition, id string) string {
	if f.tells(name) {
		return condition
	}
	return "(" + condition + " or withheld($1, '" + string(f.Kind) + "', " + id + "))"
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

// Narrows tells whether the kind has a filter of this name.
func (f Filter) Narrows(name string) bool {
	_, known := kinds[f.Kind].filters[name]
	return known
}
