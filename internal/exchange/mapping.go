package exchange

import (
	"fmt"

	"meniscus/api"
	"meniscus/internal/cardimport"
	"meniscus/internal/fault"
	"meniscus/internal/material"
)

// CheckMapping gives the faults of a mapping of cards, including its unknown materials.
func CheckMapping(base *material.Base, m api.CardMapping) error {
	faults := checkReadings(base, deref(m.Materials))
	if err := faults.Merge("", mappingOf(m).Check()); err != nil {
		return err
	}
	return faults.Err()
}

// checkReadings gives a fault for each unknown material that words are mapped to.
func checkReadings(base *material.Base, readings []api.CardMaterial) fault.List {
	var faults fault.List
	check := func(id, pointer string) {
		if _, known := base.Material(id); !known {
			faults.Add("material-unknown", pointer, "There is no material with this id; /v1/materials lists them.")
		}
	}
	for i, r := range readings {
		pointer := fmt.Sprintf("/materials/%d", i)
		if r.Material != nil {
			check(*r.Material, pointer+"/material")
		}
		for j, candidate := range deref(r.Candidates) {
			check(candidate, fmt.Sprintf("%s/candidates/%d", pointer, j))
		}
	}
	return faults
}

// mappingOf converts the contract's mapping to the core's type.
func mappingOf(m api.CardMapping) cardimport.Mapping {
	out := cardimport.Mapping{
		Format: cardimport.Format(m.Format), Encoding: string(deref(m.Encoding)),
		Separator:   map[api.CardMappingSeparator]byte{"semicolon": ';', "tab": '\t'}[deref(m.Separator)],
		CenturyFrom: int(deref(m.CenturyFrom)), KeepUnreadableDates: deref(m.UnreadableDates) == "unknown",
		Hemisphere: string(deref(m.Hemisphere)), NumbersAsWritten: deref(m.NumbersAsWritten),
		StrengthBasis: string(deref(m.StrengthBasis)), ListSeparator: deref(m.ListSeparator),
		Constants: map[cardimport.Field]string{}, Actions: map[string]string{}, Methods: map[string]string{},
	}
	for _, column := range m.Columns {
		out.Columns = append(out.Columns, cardimport.Column{Name: column.Name, Field: cardimport.Field(column.Field),
			NumberKind: string(deref(column.NumberKind))})
	}
	for _, constant := range deref(m.Constants) {
		out.Constants[cardimport.Field(constant.Field)] = constant.Value
	}
	for _, form := range deref(m.Dates) {
		out.Dates = append(out.Dates, cardimport.DateForm(form))
	}
	for _, r := range deref(m.Materials) {
		out.Materials = append(out.Materials, cardimport.Reading{Words: r.Words,
			Material: deref(r.Material), Candidates: deref(r.Candidates),
			Certainty: string(deref(r.Certainty)), AnalysedBy: deref(r.AnalysedBy)})
	}
	for _, a := range deref(m.Actions) {
		out.Actions[a.Words] = string(a.Action)
	}
	for _, way := range deref(m.Methods) {
		out.Methods[way.Words] = string(way.Method)
	}
	return out
}
