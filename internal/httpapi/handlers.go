package httpapi

import (
	"meniscus/internal/calculation"
	"meniscus/internal/record"
)

// handlers gives every operation of the contract its handler, by operationId.
var handlers = map[string]handler{
	"listPeople":   list(record.KindPerson),
	"createPerson": create(record.KindPerson),
	"readPerson":   read(record.KindPerson, "personId"),
	"erasePerson":  erasePerson,
	"endSessions":  endSessions,

	"listSpecimens":            listSpecimens,
	"mergeSpecimen":            mergeSpecimen,
	"undoMerge":                undoMerge,
	"splitSpecimen":            splitSpecimen,
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
	"readBatch":               readBatchAs,
	"recordAtBottle":          recordAtBottle,
	"fillBottles":             fillBottles,
	"readBatchContents":       readBatchContents,
	"labelBatch":              labelBatch,
	"labelSpecimen":           labelSpecimen,
	"traceLineage":            traceLineage,
	"traceWhereUsedOfBatch":   whereUsed(record.KindBatch, "batchId"),
	"listAmountChanges":       listAmountChanges,
	"createAmountChange":      create(record.KindAmountChange),
	"readAmountChange":        read(record.KindAmountChange, "amountChangeId"),
	"listTreatments":          list(record.KindTreatment),
	"createTreatment":         create(record.KindTreatment),
	"readTreatment":           readTreatmentAs,
	"listFindingsOfTreatment": listFindings(record.KindTreatment, "treatmentId", findingsNow),
	"createGroupTreatment":    createGroupTreatment,

	"checkTreatment":        checkTreatment,
	"listCheckRules":        listCheckRules,
	"tuneCheckRule":         tuneCheckRule,
	"listCollectionBodies":  listCollectionBodies,
	"chooseCollectionBody":  chooseCollectionBody,
	"readPresentState":      readPresentState,
	"planRemoval":           planRemoval,
	"assessSuitability":     assessSuitability,
	"readTravelTemperature": readTravelTemperature,
	"drawTimeline":          drawTimeline,

	"reportReversibleTreatments": reportReversibleTreatments,
	"reportTreatments":           reportTreatments,
	"reportSuitability":          reportSuitability,

	"listDue":         listDue,
	"readDueCalendar": readDueCalendar,

	"listPlans": list(record.KindPlan),

	"listReportSchedules":  listReportSchedules,
	"createReportSchedule": createReportSchedule,
	"readReportSchedule":   readReportSchedule,
	"amendReportSchedule":  amendReportSchedule,
	"endReportSchedule":    endReportSchedule,
	"listReportRuns":       listReportRuns,
	"readReportFile":       readReportFile,

	"createPlan":         create(record.KindPlan),
	"readPlan":           read(record.KindPlan, "planId"),
	"authorisePlan":      authorisePlan,
	"listFindingsOfPlan": listFindings(record.KindPlan, "planId", planFindingsNow),

	"findSourceRecord":   findSourceRecord,
	"stateSourceRecord":  stateSourceRecord,
	"stateSourceRecords": stateSourceRecords,

	"readRecord":              readRecord,
	"listRevisions":           listRevisions,
	"readCompleteness":        readCompleteness,
	"reportIncompleteRecords": reportIncompleteRecords,
	"readRevision":            readRevision,
	"amendRecord":             amendRecord,
	"amendRecords":            amendRecords,
	"retractRecord":           retractRecord,
	"redactRecord":            redactRecord,

	"readSpecimenProvenance":  readSpecimenProvenance,
	"readTreatmentProvenance": readTreatmentProvenance,
	"summarizeSpecimen":       summarizeSpecimen,
	"readSpecimenSheet":       readSpecimenSheet,
	"printPaper":              printPaper,
	"exportDarwinCore":        exportDarwinCore,
	"exportRecords":           exportRecords,
	"restoreRecords":          restoreRecords,
	"packSpecimen":            packSpecimen,
	"receiveSpecimen":         receiveSpecimen,
	"transferSpecimen":        transferSpecimen,
	"readVocabulary":          readVocabulary,
	"readTerm":                readTerm,
	"readLinkedArtContext":    readLinkedArtContext,

	"readCheckpoint": readCheckpoint,
	"proveInLog":     proveInLog,
	"listLogKeys":    listLogKeys,

	"listChanges":   listChanges,
	"streamChanges": streamChanges,

	"listWebhooks":        listWebhooks,
	"createWebhook":       createWebhook,
	"readWebhook":         readWebhook,
	"deleteWebhook":       deleteWebhook,
	"suspendWebhook":      suspendWebhook,
	"resumeWebhook":       resumeWebhook,
	"rotateWebhookSecret": rotateWebhookSecret,
	"listDeliveries":      listDeliveries,
	"listRedeliveries":    listRedeliveries,
	"redeliver":           redeliver,

	"listImports":     listImports,
	"createImport":    createImport,
	"readImport":      readImport,
	"sendCards":       sendCards,
	"listImportLines": listImportLines,

	"readInstitution": readInstitution,
	"listAccessKeys":  listAccessKeys,
	"createAccessKey": createAccessKey,
	"revokeAccessKey": revokeAccessKey,
	"rotateAccessKey": rotateAccessKey,
	"listAccesses":    listAccesses,

	"listMaterials":        listMaterials,
	"readMaterial":         readMaterial,
	"readStrengths":        readStrengths,
	"stateMaterial":        stateMaterial,
	"listContainers":       listContainers,
	"listHazardStatements": listHazardStatements,
	"listSources":          listSources,

	"computeMakeUp":     compute(calculation.MakeUp, calculation.MakeUpText),
	"computeDilution":   compute(calculation.Dilution, calculation.DilutionText),
	"computeConversion": compute(calculation.Conversion, calculation.ConversionText),
	"computeBlend":      compute(calculation.Blend, calculation.BlendText),
	"computeAdjustment": compute(calculation.Adjustment, calculation.AdjustmentText),
	"computeDryCheck":   compute(calculation.DryCheck, calculation.DryCheckText),

	"computeContainer":    compute(calculation.Container, calculation.ContainerText),
	"computeEthanolWater": compute(calculation.EthanolWater, calculation.EthanolWaterText),
	"computeFormaldehyde": compute(calculation.Formaldehyde, calculation.FormaldehydeText),
	"computeSolventBlend": computeSolventBlend,
	"computeUptake":       compute(calculation.Uptake, calculation.UptakeText),
	"computeVapour":       compute(calculation.Vapour, calculation.VapourText),

	"checkLive":    checkLive,
	"checkReady":   checkReady,
	"readContract": readContract,
}

// askedFirst are checks before an operation waits for its turn, because that wait may be
// long.
var askedFirst = map[string]func(*requestContext) error{
	"sendCards": cardsAtWork,
}
