package layers

import (
	"context"
	"errors"
	"fmt"
	"time"

	jsonv2 "github.com/go-json-experiment/json"
	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/edtf"
	"meniscus/internal/fault"
	"meniscus/internal/guard"
	"meniscus/internal/material"
	"meniscus/internal/postgres"
	"meniscus/internal/stack"
	"meniscus/internal/views"
)

// WorkOut computes a specimen's rows as of a day.
type WorkOut func(ctx context.Context, specimen uuid.UUID, h postgres.History, base *material.Base,
	day edtf.Day) (stack.Config, postgres.SpecimenState, error)

// Limits of one specimen's computation. A specimen beyond them is set aside, so that
// one record cannot exhaust the memory.
const (
	mostTreatments = 20_000
	mostUses       = 50_000
	mostCovered    = 2_000_000 // areas summed over all uses: each use has all areas of its treatment
	mostStock      = 20_000    // entries about what its treatments used
	mostWords      = 64 << 20  // bytes of the words of all those
	mostViewed     = 16 << 20  // the same while a caller waits for the answer
)

// errExcess says that a specimen exceeds a limit.
var errExcess = errors.New("there is more on record of it than is worked out")

// excess is errExcess as a caller sees it: a conflict that names the limit.
func excess(found string, args ...any) error {
	return fmt.Errorf("%w: %w", errExcess, fault.Of(fault.Conflict, "more-than-is-worked-out",
		"There is more on record of this specimen than is worked out of one: %s. "+
			"GET /v1/treatments lists every treatment, page by page.", fmt.Sprintf(found, args...)))
}

// HistoryOf reads a specimen's history for a waiting caller, unless it exceeds
// mostViewed.
func HistoryOf(ctx context.Context, store postgres.Tenant, specimen uuid.UUID) (postgres.History, error) {
	histories, err := store.HistoriesWithin(ctx, []uuid.UUID{specimen}, mostViewed)
	if errors.Is(err, postgres.ErrTooMuch) {
		err = excessWords()
	}
	return histories[0], err
}

func excessWords() error {
	return excess("more than %d MiB of words, where that is the limit", mostViewed>>20)
}

// workOut computes a specimen's rows as of a day, unless the specimen exceeds a limit.
func workOut(
	ctx context.Context, specimen uuid.UUID, h postgres.History, base *material.Base, day edtf.Day,
) (stack.Config, postgres.SpecimenState, error) {
	st := postgres.SpecimenState{Specimen: specimen, Sequence: h.Sequence, ComputedOn: day.Time()}
	config, err := Bounded(ctx, specimen, h, base, day)
	if err == nil {
		st.Layers, err = States(config, specimen)
	}
	return config, st, err
}

// Bounded is Config for a specimen within the limits, and an error otherwise.
func Bounded(
	ctx context.Context, specimen uuid.UUID, h postgres.History, base *material.Base, day edtf.Day,
) (stack.Config, error) {
	stock := len(h.Shelf.Made) + len(h.Shelf.Changes) + len(h.Shelf.Taken) + len(h.Shelf.Treatments)
	if len(h.Treatments) > mostTreatments || stock > mostStock {
		return stack.Config{}, excess("%d treatments and %d entries about what they used, where %d and %d are the limits",
			len(h.Treatments), stock, mostTreatments, mostStock)
	}
	config := Config(ctx, specimen, h, base, day)
	uses, covered := 0, 0
	for i := range config.Treatments {
		t := &config.Treatments[i]
		uses, covered = uses+len(t.Uses), covered+len(t.Uses)*len(t.Areas)
	}
	switch {
	case uses > mostUses:
		return config, excess("%d materials used, where %d is the limit", uses, mostUses)
	case covered > mostCovered:
		return config, excess("%d areas of materials used, where %d is the limit", covered, mostCovered)
	}
	return config, nil
}

// ErrSetAside says that a specimen could not be computed and is set aside.
var ErrSetAside = errors.New("the specimen could not be worked out")

// Renew computes a specimen's rows again for another day: ages, what has dried or
// sublimed, and what follows from them depend on the day. Findings are of the
// treatment's own day and stay. A specimen that cannot be computed is set aside, and
// the error is ErrSetAside with the reason.
func Renew(ctx context.Context, store postgres.Tenant, specimen uuid.UUID, base *material.Base, now time.Time) error {
	var sequence int64
	err := guard.Run(func() error {
		h, err := store.HistoriesWithin(ctx, []uuid.UUID{specimen}, mostWords)
		if err != nil {
			return err
		}
		sequence = h[0].Sequence
		_, st, err := workOut(ctx, specimen, h[0], base, edtf.DayOf(now))
		if err != nil {
			return err
		}
		return store.SaveStates(ctx, []postgres.SpecimenState{st})
	})
	if err == nil || ctx.Err() != nil || postgres.Passing(err) {
		return err
	}
	a := asideFor(store.ID(), specimen, aboutSpecimen, sequence, err, now)
	return errors.Join(ErrSetAside, err, store.SetAside(ctx, a))
}

// check gives the findings of treatments that are on the specimen of a stack.
func check(config stack.Config, tuning stack.Tuning, changed []postgres.UnseenTreatment) ([]postgres.Checked, error) {
	var checked []postgres.Checked
	for _, t := range changed {
		found, err := Findings(config, t.ID, tuning)
		if fault.Is(err, fault.NotFound) {
			continue // retracted, or on another specimen, since it got its sequence number
		}
		if err != nil {
			return nil, err
		}
		checked = append(checked, postgres.Checked{Record: t.ID, Revision: t.Revision, Findings: found})
	}
	return checked, nil
}

// States are the rows of a specimen's layers that reports read. A joint of two
// specimens is stored with the one that its treatment is on.
func States(config stack.Config, specimen uuid.UUID) ([]postgres.LayerState, error) {
	s, err := stack.New(config)
	if err != nil {
		return nil, err
	}
	reversals, takes := s.Reversibility(), s.TakesOff()
	if err := s.Err(); err != nil {
		return nil, err
	}
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

// onOthers gives the treatments on another specimen that also reach this one.
func onOthers(treatments []stack.Treatment, specimen uuid.UUID) map[string]bool {
	others := map[string]bool{}
	for i := range treatments {
		if on := treatments[i].Specimen; on != "" && on != specimen.String() {
			others[treatments[i].ID] = true
		}
	}
	return others
}

func stateOf(k stack.Knowledge, l *stack.Layer, r stack.Reversal, takes stack.TakenOffBy) (postgres.LayerState, error) {
	row := postgres.LayerState{
		Treatment: uuid.MustParse(l.Treatment), Position: l.Index, Role: string(l.Role), State: string(l.State),
		Redissolvable: r.Redissolvable.Answer.String(), Removable: r.Removable.Answer.String(),
		Retreatable: r.Retreatable.Answer.String(),
	}
	for _, a := range l.Areas {
		row.Areas = append(row.Areas, string(a))
	}
	said := reported{Damage: l.DamageNow(),
		Material: stack.Describe(k, l.Identity), Strength: views.Strength(l.Strength),
		Certainty: api.Certainty(l.Identity.Certainty), Ageing: string(r.Ageing),
		RemovedBy: takes.Named, TestsOnly: takes.Tests, Settled: l.Identity.Settled(),
	}
	if l.Date.Qualified() {
		said.Written = l.Date.String()
	}
	for _, x := range []stack.Reasoned{r.Redissolvable, r.Removable, r.Retreatable} {
		if len(x.Evidence) > 0 {
			said.Evidence = append(said.Evidence, views.Reported(x.Evidence[0]))
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

func ageingClasses(k stack.Knowledge, ref stack.Ref) []string {
	var out []string
	for _, f := range k.Property(ref.Material, material.AgeingClass, ref.Grade).All {
		out = append(out, fmt.Sprintf("%s (%s)", f.Value.Written, f.Evidence.Status))
	}
	return out
}

// Findings checks a recorded treatment as of its own day.
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
		row := postgres.Finding{Rule: f.Rule, Severity: string(f.Severity), Sentence: f.Sentence, Remedy: some(f.Remedy),
			Source: some(string(f.Sources)), Layers: []uuid.UUID{}, Unanswerable: f.Unanswerable}
		for _, t := range f.Traits {
			row.Traits = append(row.Traits, string(t))
		}
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
