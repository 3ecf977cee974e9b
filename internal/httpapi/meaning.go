package httpapi

import (
	"fmt"
	"reflect"
	"slices"
	"strings"

	"meniscus/api"
	"meniscus/internal/fault"
	"meniscus/internal/material"
	"meniscus/internal/quantity"
	"meniscus/internal/values"
)

// meaning finds what a statement of the right shape cannot mean: units that are
// not known or measure something else, strengths that are no strengths, and
// materials that nobody knows. It walks the statement's wire type, so that no
// member is forgotten.
type meaning struct {
	asking
}

// checkMeaning lists everything in a statement that cannot be meant. Its
// pointers are below prefix.
func checkMeaning(base *material.Base, statement any, prefix string) fault.List {
	m := meaning{asking{values.Reader{Base: base}}}
	m.walk(reflect.ValueOf(statement), prefix, "")
	return m.Faults
}

// walk visits a value; member is the name of the member that it stands in.
func (m *meaning) walk(v reflect.Value, at, member string) {
	switch v.Kind() {
	case reflect.Pointer:
		if !v.IsNil() {
			m.walk(v.Elem(), at, member)
		}
	case reflect.Slice:
		for i := range v.Len() {
			m.walk(v.Index(i), fmt.Sprintf("%s/%d", at, i), member)
		}
	case reflect.Struct:
		m.visit(v.Interface(), at, member)
		for i := range v.NumField() {
			name, _, _ := strings.Cut(v.Type().Field(i).Tag.Get("json"), ",")
			if name == "" {
				continue
			}
			inside := name
			if name == "quantity" {
				inside = member // an answerable quantity measures what its member does
			}
			m.walk(v.Field(i), at+"/"+name, inside)
		}
	}
}

// visit judges the wire types that mean more than their shape.
func (m *meaning) visit(v any, at, member string) {
	switch v := v.(type) {
	case api.Quantity:
		m.measure(at, member, v)
	case api.Strength:
		m.Recorded(at, v)
	case api.MaterialUse:
		m.material(at+"/id", v.Id)
	case api.UsedMaterial:
		m.material(at+"/id", v.Id)
	case api.SolventShare:
		m.material(at+"/id", v.Id)
	case api.SolventExposure:
		m.material(at+"/solvent", v.Solvent)
	case api.SpotTest:
		if v.Solvent != nil {
			m.material(at+"/solvent", *v.Solvent)
		}
	case api.Words:
		for i, candidate := range deref(v.Candidates) {
			m.material(fmt.Sprintf("%s/candidates/%d", at, i), candidate)
		}
	}
}

func (m *meaning) material(at, id string) {
	if _, known := m.Base.Material(id); !known {
		m.Faults.Add("material-unknown", at, "No material has this id; /v1/materials lists them. Make one of your own first, or write the words as they stand.")
	}
}

// measures is what the quantity in a member may measure; a member that is not
// here may measure a mass or a volume.
var measures = map[string][]quantity.Kind{
	"time":               {quantity.Time},
	"dwell":              {quantity.Time},
	"temperature":        {quantity.Temperature},
	"airTemperature":     {quantity.Temperature},
	"surfaceTemperature": {quantity.Temperature},
	"relativeHumidity":   {quantity.Ratio},
	"conductivity":       {quantity.Conductivity},
	"density":            {quantity.MassPerVolume},
	"mass":               {quantity.Mass},
}

var amounts = []quantity.Kind{quantity.Mass, quantity.Volume}

// measure judges a quantity: a known unit of the right kind, and no less than
// nothing.
func (m *meaning) measure(at, member string, q api.Quantity) {
	before := len(m.Faults)
	read := m.Quantity(at, &q)
	if len(m.Faults) > before {
		return
	}
	may := measures[member]
	if may == nil {
		may = amounts
	}
	kind := read.Unit.Kind()
	switch {
	case !slices.Contains(may, kind):
		m.Faults.Add("unit-of-another-kind", at+"/unit", "Here a unit of %s is wanted, such as %s.", kindsSaid(may), quantity.UnitsOf(may[0])[0])
	case q.Value.Sign() < 0 && kind != quantity.Temperature:
		m.Faults.Add("out-of-range", at+"/value", "Write a number that is not below 0.")
	}
}

func kindsSaid(kinds []quantity.Kind) string {
	said := make([]string, len(kinds))
	for i, k := range kinds {
		said[i] = strings.ReplaceAll(string(k), "-", " ")
	}
	return strings.Join(said, " or ")
}

// understand reads a statement of a kind into its wire type, and gathers what
// it cannot mean. What was recorded before is not asked.
func understand[T any](s *Server, c *call, raw []byte, refs *references) (T, error) {
	var st T
	if err := decodeInto(raw, &st); err != nil {
		return st, err
	}
	if refs.taken = c.replay; c.replay {
		return st, nil
	}
	base, err := s.knowledge(c)
	if err != nil {
		return st, err
	}
	refs.faults = append(refs.faults, checkMeaning(base, st, "")...)
	return st, nil
}
