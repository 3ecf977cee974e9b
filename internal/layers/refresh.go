package layers

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"slices"
	"time"

	jsonv2 "github.com/go-json-experiment/json"
	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/edtf"
	"meniscus/internal/fault"
	"meniscus/internal/material"
	"meniscus/internal/postgres"
	"meniscus/internal/stack"
)

// Refresher keeps what reports read of every layer, and the findings beside
// every treatment, in line with the record: after entries have got their
// places, in the order of the places.
//
// Any number of refreshers may run: doing a piece twice changes nothing.
type Refresher struct {
	Store *postgres.Store
	Watch *postgres.Watch
	// Knowledge is what an institution knows of materials.
	Knowledge func(ctx context.Context, institution uuid.UUID) (*material.Base, error)
	// Tuning is an institution's own severities.
	Tuning func(ctx context.Context, institution uuid.UUID) (stack.Tuning, error)
	Log    *slog.Logger
	// Today is the day that ages are taken on.
	Today func() edtf.Day
}

const (
	refreshEvery = 200 * time.Millisecond
	refreshMost  = 500 // entries looked at in one step
	// refreshTogether is how many specimens are read and kept at once.
	refreshTogether = 25
)

// Run refreshes until the context ends. A failed round is reported and tried
// again.
func (r *Refresher) Run(ctx context.Context) {
	tick := time.NewTicker(refreshEvery)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
			if err := r.Round(ctx); err != nil && ctx.Err() == nil {
				r.Log.Error("refreshing layers failed", slog.Any("error", err))
			}
		}
	}
}

// Round looks at everything that has got its place since the last one, and renews
// some of what was worked out on an earlier day.
func (r *Refresher) Round(ctx context.Context) error {
	for {
		moved, err := r.turn(ctx)
		if err != nil {
			return err
		}
		if !moved {
			return r.renew(ctx)
		}
	}
}

// turn takes a step for every institution that is behind, so that none waits for
// the whole of another's import. One that fails keeps nobody up.
func (r *Refresher) turn(ctx context.Context) (moved bool, err error) {
	behind, err := r.Watch.Behind(ctx)
	if err != nil {
		return false, err
	}
	var failed []error
	for _, institution := range behind {
		stepped, err := r.step(ctx, institution)
		if err != nil {
			failed = append(failed, fmt.Errorf("institution %s: %w", institution, err))
		}
		moved = moved || stepped
	}
	return moved, errors.Join(failed...)
}

// step looks at an institution's next entries, and tells whether there were any.
func (r *Refresher) step(ctx context.Context, institution uuid.UUID) (bool, error) {
	base, err := r.Knowledge(ctx, institution)
	if err != nil {
		return false, err
	}
	tuning, err := r.Tuning(ctx, institution)
	if err != nil {
		return false, err
	}
	unseen, err := r.Store.LayersUnseen(ctx, institution, refreshMost)
	if err != nil || unseen.Upto == 0 {
		return false, err
	}
	for specimens := range slices.Chunk(unseen.Specimens, refreshTogether) {
		if err := r.refresh(ctx, institution, specimens, base, tuning, unseen.Treatments); err != nil {
			return false, err
		}
	}
	for _, plan := range unseen.Plans {
		if err := r.checkPlan(ctx, institution, plan, base, tuning); err != nil {
			return false, fmt.Errorf("plan %s: %w", plan, err)
		}
	}
	return true, r.Store.LayersSeen(ctx, institution, unseen.Upto)
}

// refresh makes the rows of specimens anew, and the findings of the treatments on
// them that were recorded or changed.
func (r *Refresher) refresh(ctx context.Context, institution uuid.UUID, specimens []uuid.UUID, base *material.Base, tuning stack.Tuning, changed []postgres.UnseenTreatment) error {
	histories, err := r.Store.HistoriesOf(ctx, institution, specimens)
	if err != nil {
		return err
	}
	made := make([]postgres.SpecimenState, len(specimens))
	for i, specimen := range specimens {
		config, st, err := stateOn(specimen, histories[i], base, r.Today())
		if err == nil {
			st.Checked, err = check(config, specimen, tuning, changed)
		}
		if err != nil {
			return fmt.Errorf("specimen %s: %w", specimen, err)
		}
		made[i] = st
	}
	return r.Store.SaveStates(ctx, institution, made)
}

// check gives the findings of those of the changed treatments that are on a
// specimen.
func check(config stack.Config, specimen uuid.UUID, tuning stack.Tuning, changed []postgres.UnseenTreatment) ([]postgres.Checked, error) {
	var checked []postgres.Checked
	for _, t := range changed {
		if t.Specimen != specimen {
			continue
		}
		found, err := Findings(config, t.ID, tuning)
		if fault.Is(err, fault.NotFound) {
			continue // retracted, or on another specimen, since it got its place
		}
		if err != nil {
			return nil, err
		}
		checked = append(checked, postgres.Checked{Record: t.ID, Revision: t.Revision, Findings: found})
	}
	return checked, nil
}

// checkPlan keeps the findings of a plan that was recorded or changed.
func (r *Refresher) checkPlan(ctx context.Context, institution, plan uuid.UUID, base *material.Base, tuning stack.Tuning) error {
	row, err := r.Store.InForce(ctx, institution, plan)
	if err != nil {
		return err
	}
	found, place, err := CheckPlan(ctx, r.Store, institution, row, base, tuning, r.Today())
	if err != nil {
		return err
	}
	return r.Store.SavePlanCheck(ctx, institution, postgres.Checked{Record: plan, Revision: row.Revision, Findings: found}, place)
}

// stateOn works a specimen's rows out as of a day.
func stateOn(specimen uuid.UUID, h postgres.History, base *material.Base, day edtf.Day) (stack.Config, postgres.SpecimenState, error) {
	config := Config(specimen, h, base, day)
	st := postgres.SpecimenState{Specimen: specimen, Place: h.Place, ComputedOn: day.Time()}
	var err error
	st.Layers, err = States(config, specimen)
	return config, st, err
}

// Renew works a specimen's rows out anew on another day: ages, what has dried or
// sublimed, and what follows from them, are of the day. Findings are of the
// treatment's own day and stay.
func Renew(ctx context.Context, store *postgres.Store, institution, specimen uuid.UUID, base *material.Base, day edtf.Day) error {
	h, err := store.HistoryOf(ctx, institution, specimen)
	if err != nil {
		return err
	}
	_, st, err := stateOn(specimen, h, base, day)
	if err != nil {
		return err
	}
	return store.SaveStates(ctx, institution, []postgres.SpecimenState{st})
}

// renewMost is how many specimens a round renews: a museum's thousands are
// renewed in the minutes after midnight, and reports renew what they come to
// before that.
const renewMost = 20

// renew works out anew what was worked out on an earlier day.
func (r *Refresher) renew(ctx context.Context) error {
	stale, err := r.Watch.Stale(ctx, r.Today().Time(), renewMost)
	if err != nil {
		return err
	}
	for _, one := range stale {
		base, err := r.Knowledge(ctx, one.Institution)
		if err != nil {
			return err
		}
		if err := Renew(ctx, r.Store, one.Institution, one.Specimen, base, r.Today()); err != nil {
			return fmt.Errorf("renewing specimen %s: %w", one.Specimen, err)
		}
	}
	return nil
}

// States are the rows that reports read of a specimen's layers. A joint that
// ties two specimens is kept with the one that its treatment is on.
func States(config stack.Config, specimen uuid.UUID) ([]postgres.LayerState, error) {
	s, err := stack.New(config)
	if err != nil {
		return nil, err
	}
	reversals, takes := s.Reversibility(), s.TakesOff()
	others := onOthers(config.Treatments, specimen)
	var out []postgres.LayerState
	for i, l := range s.Layers() {
		if others[l.Treatment] {
			continue
		}
		row, err := stateOf(config.Knowledge, l, reversals[i], takes[i])
		if err != nil {
			return nil, err
		}
		out = append(out, row)
	}
	return out, nil
}

// onOthers is the treatments that reach a specimen from another that they are on.
func onOthers(treatments []stack.Treatment, specimen uuid.UUID) map[string]bool {
	others := map[string]bool{}
	for i := range treatments {
		if on := treatments[i].Specimen; on != "" && on != specimen.String() {
			others[treatments[i].ID] = true
		}
	}
	return others
}

// Reported is what a row keeps as words: it is shown and not searched.
type Reported struct {
	Material    string              `json:"material"`
	Strength    *api.LayerStrength  `json:"strength,omitempty"`
	Certainty   api.Certainty       `json:"certainty"`
	Ageing      string              `json:"ageing"`
	AgeingClass []string            `json:"ageingClass,omitempty"`
	RemovedBy   []string            `json:"removedBy,omitempty"`
	TestsOnly   []string            `json:"testsOnly,omitempty"`
	Evidence    []api.LayerEvidence `json:"evidence,omitempty"`
	Settled     bool                `json:"settled"`
}

func stateOf(k stack.Knowledge, l *stack.Layer, r stack.Reversal, takes stack.TakenOffBy) (postgres.LayerState, error) {
	row := postgres.LayerState{
		Treatment: uuid.MustParse(l.Treatment), Position: l.Index, Role: string(l.Role), State: string(l.State),
		Redissolvable: r.Redissolvable.Answer.String(), Removable: r.Removable.Answer.String(), Retreatable: r.Retreatable.Answer.String(),
	}
	said := Reported{
		Material: stack.Describe(k, l.Identity), Strength: Strength(l.Strength), Certainty: api.Certainty(l.Identity.Certainty), Ageing: string(r.Ageing),
		RemovedBy: takes.Named, TestsOnly: takes.Tests, Settled: l.Identity.Settled(),
	}
	for _, x := range []stack.Reasoned{r.Redissolvable, r.Removable, r.Retreatable} {
		if len(x.Evidence) > 0 {
			said.Evidence = append(said.Evidence, evidence(x.Evidence[0]))
		}
	}
	for _, refs := range [][]stack.Ref{l.Identity.Solids, l.Identity.Candidates} {
		for _, ref := range refs {
			row.Materials = append(row.Materials, ref.Material)
			said.AgeingClass = append(said.AgeingClass, ageingClasses(k, ref)...)
		}
	}
	body, err := jsonv2.Marshal(said, jsonv2.Deterministic(true))
	row.Body = string(body)
	return row, err
}

func evidence(e stack.Evidence) api.LayerEvidence {
	out := api.LayerEvidence{Says: e.Says, Source: e.Source}
	if e.Status != "" {
		status := api.ValueStatus(e.Status)
		out.Status = &status
	}
	if e.Treatment != "" {
		id := uuid.MustParse(e.Treatment)
		out.Treatment = &id
	}
	return out
}

func ageingClasses(k stack.Knowledge, ref stack.Ref) []string {
	var out []string
	for _, f := range k.Property(ref.Material, material.AgeingClass, ref.Grade).All {
		out = append(out, fmt.Sprintf("%s (%s)", f.Value.Written, f.Evidence.Status))
	}
	return out
}

// Findings looks at a recorded treatment as of its own day.
func Findings(config stack.Config, treatment uuid.UUID, tuning stack.Tuning) ([]postgres.Finding, error) {
	checked, err := stack.CheckRecorded(config, treatment.String(), stack.CheckConfig{Tuning: tuning})
	if err != nil {
		return nil, err
	}
	return findingRows(checked), nil
}

func findingRows(checked stack.Checked) []postgres.Finding {
	out := make([]postgres.Finding, 0, len(checked.Findings))
	for _, f := range checked.Findings {
		row := postgres.Finding{Rule: f.Rule, Severity: string(f.Severity), Sentence: f.Sentence, Remedy: some(f.Remedy), Source: some(f.Source), Layers: []uuid.UUID{}}
		if len(f.Areas) == 1 {
			row.Area = some(string(f.Areas[0]))
		}
		for _, id := range f.Layers {
			row.Layers = append(row.Layers, uuid.MustParse(id))
		}
		out = append(out, row)
	}
	return out
}

func some(text string) *string {
	if text == "" {
		return nil
	}
	return &text
}
