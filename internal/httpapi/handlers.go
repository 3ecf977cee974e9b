package httpapi

import "meniscus/internal/record"

// handlers gives every operation of the contract its handler, by operationId.
var handlers = map[string]handler{
	"listPeople":   list(record.KindPerson),
	"createPerson": create(record.KindPerson),
	"readPerson":   read(record.KindPerson, "personId"),

	"listSpecimens":            list(record.KindSpecimen),
	"createSpecimen":           create(record.KindSpecimen),
	"readSpecimen":             readSpecimenAs,
	"listTreatmentsOfSpecimen": listTreatmentsOfSpecimen,
	"lookUpSpecimen":           lookUpSpecimen,
	"lookUpSpecimens":          lookUpSpecimens,

	"listSupplies":            list(record.KindSupply),
	"createSupply":            create(record.KindSupply),
	"readSupply":              read(record.KindSupply, "supplyId"),
	"traceWhereUsedOfSupply":  whereUsed(record.KindSupply, "supplyId"),
	"listBatches":             list(record.KindBatch),
	"createBatch":             create(record.KindBatch),
	"readBatch":               read(record.KindBatch, "batchId"),
	"fillBottles":             fillBottles,
	"readBatchContents":       readBatchContents,
	"traceLineage":            traceLineage,
	"traceWhereUsedOfBatch":   whereUsed(record.KindBatch, "batchId"),
	"listAmountChanges":       listAmountChanges,
	"createAmountChange":      create(record.KindAmountChange),
	"readAmountChange":        read(record.KindAmountChange, "amountChangeId"),
	"listTreatments":          listTreatments,
	"createTreatment":         create(record.KindTreatment),
	"readTreatment":           readTreatmentAs,
	"listFindingsOfTreatment": listFindingsOfTreatment,
	"createGroupTreatment":    createGroupTreatment,

	"listPlans":     listPlans,
	"createPlan":    create(record.KindPlan),
	"readPlan":      read(record.KindPlan, "planId"),
	"authorisePlan": authorisePlan,

	"readRecord":    readRecord,
	"listRevisions": listRevisions,
	"readRevision":  readRevision,
	"amendRecord":   amendRecord,
	"retractRecord": retractRecord,
	"redactRecord":  redactRecord,

	"readSpecimenProvenance":  readSpecimenProvenance,
	"readTreatmentProvenance": readTreatmentProvenance,
	"summarizeSpecimen":       summarizeSpecimen,
	"readSpecimenSheet":       readSpecimenSheet,
	"exportDarwinCore":        exportDarwinCore,
	"readVocabulary":          readVocabulary,
	"readTerm":                readTerm,
	"readLinkedArtContext":    readLinkedArtContext,

	"listChanges":     listChanges,
	"readInstitution": readInstitution,
	"listAccessKeys":  listAccessKeys,
	"createAccessKey": createAccessKey,
	"revokeAccessKey": revokeAccessKey,

	"listMaterials":        listMaterials,
	"readMaterial":         readMaterial,
	"stateMaterial":        stateMaterial,
	"listContainers":       listContainers,
	"listHazardStatements": listHazardStatements,
	"listSources":          listSources,

	"computeMakeUp":     computeMakeUp,
	"computeDilution":   computeDilution,
	"computeConversion": computeConversion,
	"computeBlend":      computeBlend,
	"computeAdjustment": computeAdjustment,
	"computeDryCheck":   computeDryCheck,

	"computeContainer":    computeContainer,
	"computeEthanolWater": computeEthanolWater,
	"computeFormaldehyde": computeFormaldehyde,
	"computeSolventBlend": computeSolventBlend,
	"computeUptake":       computeUptake,
	"computeVapour":       computeVapour,

	"checkLive":    checkLive,
	"checkReady":   checkReady,
	"readContract": readContract,
}
