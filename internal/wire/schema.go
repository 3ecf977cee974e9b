package wire

import (
	"github.com/getkin/kin-openapi/openapi3"

	"meniscus/api"
	"meniscus/internal/record"
)

// Schema is one of the contract's schemas by its name.
func Schema(name string) *openapi3.Schema {
	doc, err := api.Judged()
	if err != nil {
		return nil
	}
	return doc.Components.Schemas[name].Value
}

// StatementSchema is the contract's schema of a kind's statement.
func StatementSchema(kind record.Kind) *openapi3.Schema { return Schema(statementNames[kind]) }

var statementNames = map[record.Kind]string{
	record.KindPerson:       "PersonStatement",
	record.KindSpecimen:     "SpecimenStatement",
	record.KindSupply:       "SupplyStatement",
	record.KindBatch:        "BatchStatement",
	record.KindAmountChange: "AmountChangeStatement",
	record.KindTreatment:    "TreatmentStatement",
	record.KindPlan:         "PlanStatement",
	record.KindMaterial:     "MaterialStatement",
}
