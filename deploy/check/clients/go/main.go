//go:build generated

// Command client does the main job with the Go client that oapi-codegen makes of the
// contract. The check of deploy/check/clients.mjs puts the generated package beside it,
// so it is built only there.
package main

import (
	"context"
	"fmt"
	"log"
	"net/http"
	"os"
	"slices"
	"time"

	"catalogue/meniscus"

	openapi_types "github.com/oapi-codegen/runtime/types"
)

func main() {
	log.SetFlags(0)
	job, err := newJob(os.Getenv("AT"), os.Getenv("KEY"))
	if err == nil {
		err = job.do(context.Background())
	}
	if err != nil {
		log.Fatal("go client: ", err)
	}
	fmt.Printf("Go, oapi-codegen: %d answers\n", job.answers)
}

// job is one run of the main job, with what its steps found.
type job struct {
	api     *meniscus.ClientWithResponses
	run     string // prefix of each source record's id
	answers int

	resin, solvent, batch, bottle, specimen, treatment meniscus.Id
}

func newJob(at, key string) (*job, error) {
	authorize := func(_ context.Context, r *http.Request) error {
		r.Header.Set("Authorization", "Bearer "+key)
		return nil
	}
	api, err := meniscus.NewClientWithResponses(at, meniscus.WithRequestEditorFn(authorize))
	return &job{api: api, run: fmt.Sprintf("go-%d", time.Now().UnixNano())}, err
}

func (j *job) do(ctx context.Context) error {
	steps := []func(context.Context) error{
		j.compute, j.supplies, j.makeBatch, j.fillBottle, j.find, j.treat, j.amend, j.remove, j.look, j.report,
	}
	for _, step := range steps {
		if err := step(ctx); err != nil {
			return err
		}
	}
	return nil
}

// answer is the decoded answer, or an error.
func answer[T any](j *job, what string, status int, body []byte, value *T) (*T, error) {
	if value == nil {
		return nil, fmt.Errorf("%s was answered %d: %s", what, status, body)
	}
	j.answers++
	return value, nil
}

// as names the caller's own record, so that a request sent twice makes one.
func (j *job) as(name string) *meniscus.Source {
	return &meniscus.Source{System: "clients-check", RecordId: j.run + "/" + name}
}

func (j *job) compute(ctx context.Context) error {
	r, err := j.api.ComputeMakeUpWithResponse(ctx, nil, meniscus.ComputeMakeUpJSONRequestBody{
		Resin: meniscus.AskedResin{
			Solid: &meniscus.AskedSolid{Material: new("ethyl-methacrylate-methyl-acrylate-copolymer")},
		},
		Solvent: &meniscus.AskedSolvent{Liquid: &meniscus.Substance{Material: new("acetone")}},
		Strength: &meniscus.AskedStrength{
			Value: new(20.0), Unit: new("g/dL"), Basis: new(meniscus.StrengthBasisMassPerSolutionVolume),
		},
		Amount: meniscus.AskedAmount{Finished: &meniscus.Quantity{Value: 150, Unit: "mL"}},
	})
	if err != nil {
		return err
	}
	recipe, err := answer(j, "the recipe", r.StatusCode(), r.Body, r.JSON200)
	if err != nil {
		return err
	}
	if len(recipe.Steps) == 0 {
		return fmt.Errorf("the recipe has no steps: %s", r.Body)
	}
	return nil
}

func (j *job) supplies(ctx context.Context) (err error) {
	if j.resin, err = j.supply(ctx, "ethyl-methacrylate-methyl-acrylate-copolymer"); err != nil {
		return err
	}
	j.solvent, err = j.supply(ctx, "acetone")
	return err
}

func (j *job) supply(ctx context.Context, material string) (meniscus.Id, error) {
	r, err := j.api.CreateSupplyWithResponse(ctx, nil, meniscus.SupplyCreate{
		Source:    j.as(material),
		Statement: meniscus.SupplyStatement{Code: j.run + "/" + material, Material: meniscus.MaterialUse{Id: material}},
	})
	if err != nil {
		return meniscus.Id{}, err
	}
	made, err := answer(j, "a supply", r.StatusCode(), r.Body, r.JSON201)
	if err != nil {
		return meniscus.Id{}, err
	}
	return made.Id, nil
}

func (j *job) makeBatch(ctx context.Context) error {
	grams := func(v float64) meniscus.AnswerableQuantity {
		return meniscus.AnswerableQuantity{Quantity: &meniscus.Quantity{Value: v, Unit: "g"}}
	}
	r, err := j.api.CreateBatchWithResponse(ctx, nil, meniscus.BatchCreate{
		Source: j.as("batch"),
		Statement: meniscus.BatchStatement{
			Code: j.run + "/B", Kind: meniscus.BatchStatementKindSolution,
			Made: &meniscus.AnswerableDate{Edtf: new("2026-02-02")},
			Inputs: &[]meniscus.BatchInput{
				{From: meniscus.BatchInputFrom{Supply: &meniscus.RecordRef{Id: j.resin}}, Part: meniscus.BatchInputPartSolute,
					Amount: grams(30.1)},
				{From: meniscus.BatchInputFrom{Supply: &meniscus.RecordRef{Id: j.solvent}}, Part: meniscus.BatchInputPartSolvent,
					Amount: grams(97.9)},
			},
			Finished: &meniscus.AnswerableQuantity{Quantity: &meniscus.Quantity{Value: 150, Unit: "mL"}},
		},
	})
	if err != nil {
		return err
	}
	made, err := answer(j, "the batch", r.StatusCode(), r.Body, r.JSON201)
	if err != nil {
		return err
	}
	j.batch = made.Id
	return nil
}

func (j *job) fillBottle(ctx context.Context) error {
	r, err := j.api.FillBottlesWithResponse(ctx, j.batch,
		&meniscus.FillBottlesParams{IdempotencyKey: j.run + "/bottles"},
		meniscus.BottlesRequest{
			Filled:  &meniscus.AnswerableDate{Edtf: new("2026-02-03")},
			Bottles: []meniscus.BottleRequest{{Code: j.run + "/B-1", Amount: meniscus.Quantity{Value: 40, Unit: "mL"}}},
		})
	if err != nil {
		return err
	}
	filled, err := answer(j, "the bottle", r.StatusCode(), r.Body, r.JSON201)
	if err != nil {
		return err
	}
	j.bottle = filled.Items[0].Id
	return nil
}

// find registers a specimen and finds it again by the catalogue's number.
func (j *job) find(ctx context.Context) error {
	number := "LV." + j.run
	made, err := j.api.CreateSpecimenWithResponse(ctx, nil, meniscus.SpecimenCreate{
		Source: j.as("specimen"),
		Statement: meniscus.SpecimenStatement{
			Identifiers: []meniscus.Identifier{{Kind: meniscus.IdentifierKindCatalogueNumber, Value: number}},
			BodyKind:    new(meniscus.BodyKindBone), Areas: &[]meniscus.SpecimenArea{{Path: "shaft"}},
		},
	})
	if err != nil {
		return err
	}
	if _, err := answer(j, "the specimen", made.StatusCode(), made.Body, made.JSON201); err != nil {
		return err
	}
	r, err := j.api.LookUpSpecimenWithResponse(ctx, &meniscus.LookUpSpecimenParams{Number: number})
	if err != nil {
		return err
	}
	found, err := answer(j, "the lookup", r.StatusCode(), r.Body, r.JSON200)
	if err != nil {
		return err
	}
	if len(found.Specimens) != 1 || found.Specimens[0].Specimen.Id != made.JSON201.Id {
		return fmt.Errorf("the number was not found: %s", r.Body)
	}
	j.specimen = found.Specimens[0].Specimen.Id
	return nil
}

func (j *job) treat(ctx context.Context) (err error) {
	j.treatment, err = j.record(ctx, "treatment", meniscus.TreatmentStatement{
		Specimen: meniscus.SpecimenRef{Id: &j.specimen}, Action: meniscus.ActionConsolidation,
		Areas: meniscus.AnswerableAreas{Paths: &[]string{"shaft"}}, Method: new(meniscus.MethodBrush), Coats: new(int32(2)),
		Dates: meniscus.AnswerableDate{Edtf: new("2026-02-04")},
		People: &[]meniscus.Involvement{
			{Person: meniscus.PersonRef{Name: new("Ilse Varga")}, Part: meniscus.InvolvementPartCarriedOut},
		},
		Materials: &[]meniscus.TreatmentUse{
			{Used: meniscus.Used{Batch: &meniscus.RecordRef{Id: j.bottle}}, Role: new(meniscus.LayerRoleConsolidant)},
		},
	})
	return err
}

// amend takes the treatment's method away, and says that it had three coats.
func (j *job) amend(ctx context.Context) error {
	patch := meniscus.AmendmentPatch{
		Reason: "The card says three coats, by no tool that it names.", Statement: map[string]any{"coats": 3, "method": nil},
	}
	r, err := j.api.AmendRecordWithApplicationMergePatchPlusJSONBodyWithResponse(ctx, j.treatment,
		&meniscus.AmendRecordParams{IfMatch: "*"}, patch)
	if err != nil {
		return err
	}
	amended, err := answer(j, "the amendment", r.StatusCode(), r.Body, r.JSON201)
	if err != nil {
		return err
	}
	if amended.Changed == nil || len(amended.Changed.Items) != 2 {
		return fmt.Errorf("two values were to change: %s", r.Body)
	}
	return nil
}

func (j *job) remove(ctx context.Context) error {
	_, err := j.record(ctx, "removal", meniscus.TreatmentStatement{
		Specimen: meniscus.SpecimenRef{Id: &j.specimen}, Action: meniscus.ActionRemoval,
		Areas: meniscus.AnswerableAreas{Paths: &[]string{"shaft"}}, Method: new(meniscus.MethodSwab),
		Dates:   meniscus.AnswerableDate{Edtf: new("2026-03")},
		Removal: &meniscus.Removal{Treatments: []meniscus.RecordRef{{Id: j.treatment}}, Left: meniscus.RemovalLeftReduced},
	})
	return err
}

func (j *job) record(ctx context.Context, name string, statement meniscus.TreatmentStatement) (meniscus.Id, error) {
	r, err := j.api.CreateTreatmentWithResponse(ctx, nil, meniscus.TreatmentCreate{
		Source: j.as(name), Statement: statement,
	})
	if err != nil {
		return meniscus.Id{}, err
	}
	made, err := answer(j, "the "+name, r.StatusCode(), r.Body, r.JSON201)
	if err != nil {
		return meniscus.Id{}, err
	}
	return made.Id, nil
}

func (j *job) look(ctx context.Context) error {
	r, err := j.api.ReadPresentStateWithResponse(ctx, j.specimen, nil)
	if err != nil {
		return err
	}
	state, err := answer(j, "the present state", r.StatusCode(), r.Body, r.JSON200)
	if err != nil {
		return err
	}
	reduced := func(l meniscus.PresentLayer) bool {
		return l.Treatment.Id == j.treatment && l.State == meniscus.LayerStateReduced
	}
	for _, area := range state.Areas {
		if area.Area == "shaft" && slices.ContainsFunc(area.Layers, reduced) {
			return nil
		}
	}
	return fmt.Errorf("the layer is not reduced: %s", r.Body)
}

// report waits until the report includes what was recorded.
func (j *job) report(ctx context.Context) error {
	day := func(text string) *openapi_types.Date {
		t, err := time.Parse(time.DateOnly, text)
		if err != nil {
			panic(err)
		}
		return &openapi_types.Date{Time: t}
	}
	params := &meniscus.ReportReversibleTreatmentsParams{From: day("2026-02-01"), Until: day("2026-02-28")}
	ours := func(t meniscus.ReversibleTreatment) bool { return t.Treatment.Id == j.treatment }
	for began := time.Now(); ; time.Sleep(100 * time.Millisecond) {
		r, err := j.api.ReportReversibleTreatmentsWithResponse(ctx, params)
		if err != nil {
			return err
		}
		if r.JSON200 != nil && r.JSON200.Remainder.NotComputed > 0 && time.Since(began) < 30*time.Second {
			continue
		}
		report, err := answer(j, "the report", r.StatusCode(), r.Body, r.JSON200)
		if err != nil {
			return err
		}
		if !slices.ContainsFunc(report.Items, ours) {
			return fmt.Errorf("the report lacks the treatment: %s", r.Body)
		}
		return nil
	}
}
