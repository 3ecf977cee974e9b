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

// WorkOut works a specimen's rows out as of a day.
type WorkOut func(ctx context.Context, specimen uuid.UUID, h postgres.History, base *material.Base,
	day edtf.Day) (stack.Config, postgres.SpecimenState, error)

// The most that is worked out of one specimen. What is beyond is set aside: the
// work of one record must not take the memory of all.
const (
	mostTreatments = 20_000
	mostUses       = 50_000
	mostCovered    = 2_000_000 // areas that uses are on: each has all those of its treatment
	mostStock      = 20_000    // entries about what its treatments used
	mostWords      = 64 << 20  // bytes of all those
	mostViewed     = 16 << 20  // the same while someone waits for the answer
)

// errExcess says that there is more of a specimen than is worked out.
var errExcess = errors.New("there is more on record of it than is worked out")

// excess is errExcess as a caller sees it: a conflict that names the limit.
func excess(found string, args ...any) error {
	return fmt.Errorf("%w: %w", errExcess, fault.Of(fault.Conflict, "more-than-is-worked-out",
		"There is more on record of this specimen than is worked out of one: %s. "+
			"GET /v1/treatments lists every treatment, page by page.", fmt.Sprintf(found, args...)))
}

// HistoryOf reads a specimen's history for someone who waits, unless it has too many
// words.
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

// workOut works a specimen's rows out as of a day, unless there is too much.
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

// Bounded is Config of a specimen of which there is not more than is worked out.
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

// ErrSetAside says that a specimen could not be worked out, and is set aside.
var ErrSetAside = errors.New("the specimen could not be worked out")

// Renew works a specimen's rows out anew on another day: ages, what has dried or
// sublimed, and what follows from them, are of the day. Findings are of the
// treatment's own day and stay. One that cannot be worked out is set aside, and
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

// States are the rows that reports read of a specimen's layers. A joint that
// ties two specimens is kept with the one that its treatment is on.
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

func stateOf(k stack.Knowledge, l *stack.Layer, r stack.Reversal, takes stack.TakenOffBy) (postgres.LayerState, error) {
	row := postgres.LayerState{
		Treatment: uuid.MustParse(l.Treatment), Position: l.Index, Role: string(l.Role), State: string(l.State),
		Redissolvable: r.Redissolvable.Answer.String(), Removable: r.Removable.Answer.String(),
		Retreatable: r.Retreatable.Answer.String(),
	}
	for _, a := range l.Areas {
		row.Areas = append(row.Areas, string(a))
	}
	said := reported{
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
