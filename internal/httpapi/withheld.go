package httpapi

import (
	"slices"
	"strings"

	"github.com/google/uuid"

	"meniscus/internal/access"
	"meniscus/internal/postgres"
	"meniscus/internal/stack"
)

// withholding is how an operation treats a caller who may not see restricted records.
type withholding int

const (
	// refusedIfAny is of operations that are not named below: in an institution in which anything is
	// restricted they are refused. So are an export, which could not be restored, and the cards of an
	// import, which do not say whose they are until they are read.
	refusedIfAny withholding = iota
	// toldWithheld says what is restricted in its withheld form, or has nothing of it.
	toldWithheld
	// refusedIfNamed is refused where a record that its path names is restricted.
	refusedIfNamed
)

// answered has the handler answer, as far as restricted records may be told.
func (c *requestContext) answered(h handler) (*answer, error) {
	if err := c.withhold(); err != nil {
		return nil, err
	}
	return h(c.server, c)
}

// withhold has all that is read for the caller give restricted records in their withheld form,
// unless they may see them, and refuses what cannot be told so.
func (c *requestContext) withhold() error {
	if c.principal == nil {
		return nil
	}
	r, withheld := c.echo.Request(), !c.principal.May(access.Restricted)
	c.echo.SetRequest(r.WithContext(postgres.Withholding(r.Context(), withheld)))
	if !withheld || c.server.store == nil {
		return nil
	}
	var found bool
	var err error
	switch withheldBy[c.op.id] {
	case toldWithheld:
		return nil
	case refusedIfAny:
		found, err = c.tenant().AnyWithheld(c.ctx())
	case refusedIfNamed:
		var named []uuid.UUID
		for _, name := range c.echo.ParamNames() {
			if id, err := uuid.Parse(c.echo.Param(name)); err == nil {
				named = append(named, id)
			}
		}
		found, err = c.tenant().Withheld(c.ctx(), slices.Clip(named))
	}
	if err == nil && found {
		err = postgres.ErrWithheld
	}
	return err
}

// seeing has f read what is restricted as it is, for what is told of it all the same: hazards, and
// what blocks. Its caller may answer nothing else of that.
func (c *requestContext) seeing(f func() error) error {
	r := c.echo.Request()
	c.echo.SetRequest(r.WithContext(postgres.Withholding(r.Context(), false)))
	defer c.echo.SetRequest(r)
	return f()
}

// tellHazards adds the hazards that withheld records tell of to specimens, without how they are
// known.
func (c *requestContext) tellHazards(of ...*stack.Specimen) error {
	var ids []uuid.UUID
	for _, sp := range of {
		if sp.Withheld > 0 && postgres.Withholds(c.ctx()) {
			ids = append(ids, uuid.MustParse(sp.ID))
		}
	}
	if len(ids) == 0 {
		return nil
	}
	var whole map[uuid.UUID]*stack.Specimen
	err := c.seeing(func() (err error) { whole, err = c.about(ids...); return err })
	for _, sp := range of {
		if seen := whole[uuid.MustParse(sp.ID)]; seen != nil {
			sp.TellHazards(seen.Hazards)
		}
	}
	return err
}

// blocked keeps of the findings on a whole record those that block and are not told already,
// without what they are about.
func blocked(whole, told []stack.Finding) []stack.Finding {
	var out []stack.Finding
	for _, f := range whole {
		same := func(x stack.Finding) bool { return x.Rule == f.Rule && x.Severity == stack.Block }
		if f.Severity == stack.Block && !slices.ContainsFunc(told, same) && !slices.ContainsFunc(out, same) {
			out = append(out, stack.Finding{Rule: f.Rule, Severity: f.Severity, Sources: f.Sources, Status: f.Status,
				Overridden: f.Overridden, Sentence: "Something on record that is withheld here blocks this.",
				Remedy: "Ask whoever may see restricted records."})
		}
	}
	return out
}

// toldOperations tell what is restricted in its withheld form, or nothing of it.
var toldOperations = strings.Fields(`
	endSessions recordAtBottle
	listPeople createPerson readPerson erasePerson listSpecimens mergeSpecimen undoMerge createSpecimen
	readSpecimen listTreatmentsOfSpecimen lookUpSpecimen lookUpSpecimens listSupplies createSupply readSupply
	traceWhereUsedOfSupply listBatches createBatch readBatch fillBottles readBatchContents labelBatch traceLineage
	traceWhereUsedOfBatch listAmountChanges createAmountChange readAmountChange listTreatments createTreatment
	readTreatment listFindingsOfTreatment createGroupTreatment labelSpecimen checkTreatment listCheckRules
	tuneCheckRule listCollectionBodies chooseCollectionBody readPresentState planRemoval assessSuitability
	readTravelTemperature drawTimeline reportReversibleTreatments reportSuitability listDue readDueCalendar
	listPlans listReportSchedules createReportSchedule readReportSchedule amendReportSchedule endReportSchedule
	listReportRuns readReportFile createPlan readPlan authorisePlan listFindingsOfPlan findSourceRecord
	stateSourceRecord stateSourceRecords readRecord listRevisions readCompleteness reportIncompleteRecords
	readRevision amendRecord amendRecords retractRecord redactRecord readSpecimenProvenance readTreatmentProvenance
	summarizeSpecimen readSpecimenSheet printPaper exportDarwinCore receiveSpecimen transferSpecimen restoreRecords
	readCheckpoint proveInLog listLogKeys listChanges streamChanges listWebhooks createWebhook readWebhook
	deleteWebhook suspendWebhook resumeWebhook rotateWebhookSecret listDeliveries listRedeliveries redeliver
	listImports createImport readImport sendCards readInstitution listAccessKeys createAccessKey revokeAccessKey
	rotateAccessKey listAccesses listMaterials readMaterial readStrengths stateMaterial listContainers
	listHazardStatements listSources computeMakeUp computeDilution computeConversion computeBlend computeAdjustment
	computeDryCheck computeContainer computeEthanolWater computeFormaldehyde computeSolventBlend computeUptake
	computeVapour`)

// withheldBy is how each operation treats a caller who may not see restricted records.
var withheldBy = func() map[string]withholding {
	by := map[string]withholding{"packSpecimen": refusedIfNamed, "splitSpecimen": refusedIfNamed}
	for _, op := range toldOperations {
		by[op] = toldWithheld
	}
	return by
}()
