package layers_test

import (
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"meniscus/internal/layers"
	"meniscus/internal/material"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
	"meniscus/internal/recording"
	"meniscus/internal/stack"
	"meniscus/internal/statement"
	"meniscus/internal/stock"
)

// value reads a statement.
func value[T record.Value](t *testing.T, kind record.Kind, words string) T {
	t.Helper()
	reading, err := statement.Read(kind, []byte(words))
	if err != nil {
		t.Fatal(err)
	}
	return reading.Value.(T)
}

// nothing is a book without records.
var nothing = stock.NewBook(nil, stock.Records{})

// row is a record's statement as it is stored.
func row(kind record.Kind, id uuid.UUID, words string) postgres.Row {
	body := `{"statement":` + words + `}`
	return postgres.Row{Kind: kind, Record: id, Body: &body}
}

// TestWhatIsLeftOpenStaysUnknown: what a statement leaves open gives no answer.
func TestWhatIsLeftOpenStaysUnknown(t *testing.T) {
	t.Parallel()
	got := layers.Treatment("t", value[*record.Treatment](t, record.KindTreatment,
		`{"specimen":{},"action":"coating","areas":{"answer":"unknown"},"dates":{"answer":"unknown"}}`), nothing)
	if !got.AreasUnknown || !got.When.From.IsZero() || !got.When.To.IsZero() || got.CarriesLoad != stack.Unknown ||
		got.NumberRecorded != stack.Unknown || got.Authorised != stack.Unknown || got.Supported != stack.Unknown ||
		got.NothingPut {
		t.Errorf("got %+v, want everything unknown", got)
	}
	s := layers.Specimen("s", value[*record.Specimen](t, record.KindSpecimen, `{"identifiers":[]}`))
	if s.SamplingKnown || s.Is(stack.Friable) != stack.Unknown || s.Is(stack.Porous) != stack.Unknown {
		t.Errorf("got %+v, want nothing known", s)
	}
	none := layers.Specimen("s", value[*record.Specimen](t, record.KindSpecimen,
		`{"identifiers":[],"plannedSampling":[]}`))
	if !none.SamplingKnown {
		t.Error("an empty list: got unanswered, want that no sampling is planned")
	}
}

// TestTheYesAndNoOfThePast may be unknown, and what was said as true or false stays so.
func TestTheYesAndNoOfThePast(t *testing.T) {
	t.Parallel()
	read := func(members string) stack.Treatment {
		return layers.Treatment("t", value[*record.Treatment](t, record.KindTreatment, `{"specimen":{},"action":"labelling",`+
			`"areas":{"paths":["skull/nasal"]},"dates":{"answer":"unknown"},"method":"immersion",`+members+`}`), nothing)
	}
	for members, want := range map[string]stack.Answer{
		`"label":{"numberRecorded":true}`:            stack.Yes,
		`"label":{"numberRecorded":false}`:           stack.No,
		`"label":{"numberRecordedAnswer":"unknown"}`: stack.Unknown,
		`"label":{"number":"LV 1"}`:                  stack.Unknown,
	} {
		if got := read(members).NumberRecorded; got != want {
			t.Errorf("%s: got %s, want %s", members, got, want)
		}
	}
	if got := read(`"partialBath":true`); !got.Partial || got.PartialOpen {
		t.Errorf("got %+v, want a bath of a part", got)
	}
	if got := read(`"partialBathAnswer":"unknown"`); got.Partial || !got.PartialOpen {
		t.Errorf("got %+v, want a bath of which nobody knows how far it reached", got)
	}
	both, err := statement.Read(record.KindTreatment, []byte(`{"specimen":{},"action":"labelling","areas":{"answer":"unknown"},`+
		`"dates":{"answer":"unknown"},"label":{"numberRecorded":true,"numberRecordedAnswer":"unknown"}}`))
	if err != nil || len(both.Faults) != 1 {
		t.Errorf("got %v, %v, want one fault for what is said and said to be unknown", both, err)
	}
}

// TestUnits: quantities are read in any unit of their kind; one of another kind gives
// no answer.
func TestUnits(t *testing.T) {
	t.Parallel()
	got := layers.Treatment("t", value[*record.Treatment](t, record.KindTreatment,
		`{"specimen":{},"action":"coating","areas":{"paths":["skull"]},"dates":{"edtf":"2020"},
		"environment":{"airTemperature":{"quantity":{"value":68,"unit":"[degF]"}},"relativeHumidity":{"quantity":{"value":0.5,"unit":"1"}},"storeTemperature":{"quantity":{"value":3,"unit":"g"}}},
		"solventExposure":[{"solvent":"acetone","time":{"quantity":{"value":90,"unit":"min"}}},{"solvent":"acetone","time":{"answer":"unknown"}}]}`), nothing)
	e := got.Environment
	if math.Abs(*e.AirC-20) > 1e-9 || *e.RelativeHumidity != 50 || e.StoreC != nil {
		t.Errorf("got %v °C, %v %%, store %v, want 20, 50 and nothing", *e.AirC, *e.RelativeHumidity, e.StoreC)
	}
	if *got.Exposures[0].Hours != 1.5 || got.Exposures[1].Hours != nil {
		t.Errorf("got %v, want 1.5 h and unknown", got.Exposures)
	}
}

// TestMixtures follows a bottle to what was in it, stops at a cycle, and leaves unknown
// what cannot be followed.
func TestMixtures(t *testing.T) {
	t.Parallel()
	ids := []uuid.UUID{}
	for i := range 6 {
		ids = append(ids, uuid.UUID{15: byte(i + 1)})
	}
	bottle, batch, resin, circle, solvent, thinned := ids[0], ids[1], ids[2], ids[3], ids[4], ids[5]
	on, _ := recording.Book(material.Builtin(), postgres.Shelf{Made: []postgres.Row{
		row(record.KindSupply, resin, `{"code":"R","material":{"id":"polyethylene-glycol","grade":"400"}}`),
		row(record.KindSupply, solvent, `{"code":"A","material":{"id":"acetone"}}`),
		row(record.KindBatch, bottle, `{"code":"b","kind":"bottle","inputs":[{"from":{"batch":{"id":"`+batch.String()+
			`"}},"part":"stock","amount":{"answer":"unknown"}}]}`),
		row(record.KindBatch, batch,
			`{"code":"B","kind":"solution","referenceSample":{"text":"Drawer 4"},"labelStrength":{"value":5,"basis":"unknown"},"inputs":[
			{"from":{"supply":{"id":"`+resin.String()+`"}},"part":"solute","amount":{"answer":"unknown"}},
			{"from":{"supply":{"id":"`+solvent.String()+`"}},"part":"solvent","amount":{"answer":"unknown"}}]}`),
		row(record.KindBatch, thinned,
			`{"code":"T","kind":"dilution","solvents":[{"id":"acetone","fraction":0.9},{"id":"ethanol","fraction":0.1}],"inputs":[
			{"from":{"batch":{"id":"`+batch.String()+`"}},"part":"stock","amount":{"answer":"unknown"}},
			{"from":{"supply":{"id":"`+solvent.String()+`"}},"part":"solvent","amount":{"answer":"unknown"}}]}`),
		row(record.KindBatch, circle, `{"code":"C","kind":"blend","inputs":[{"from":{"batch":{"id":"`+circle.String()+
			`"}},"part":"stock","amount":{"answer":"unknown"}}]}`),
	}})
	use := func(used string) stack.Use {
		st := value[*record.Treatment](t, record.KindTreatment,
			`{"specimen":{},"action":"coating","areas":{"paths":["skull"]},"dates":{"edtf":"2020"},"materials":[{"used":`+used+
				`}]}`)
		return layers.Treatment("t", st, on).Uses[0]
	}
	want := stack.Use{
		Solids: []stack.Ref{{Material: "polyethylene-glycol", Grade: "400"}}, Solvents: []stack.Share{{Solvent: "acetone"}},
		Certainty: stack.Documented,
		Batch:     bottle.String(), ReferenceSample: "Drawer 4", Strength: &stack.Strength{
			Value: 5, Basis: "unknown", Origin: stack.OnLabel,
		},
	}
	if diff := cmp.Diff(use(`{"batch":{"id":"`+bottle.String()+`"}}`), want); diff != "" {
		t.Errorf("got (-) want (+)\n%s", diff)
	}
	diluted := use(`{"batch":{"id":"` + thinned.String() + `"}}`)
	if diff := cmp.Diff(diluted.Solvents, []stack.Share{
		{Solvent: "acetone", Fraction: 0.9}, {Solvent: "ethanol", Fraction: 0.1},
	}); diff != "" {
		t.Errorf("a dilution holds each liquid once: got (-) want (+)\n%s", diff)
	}
	for name, id := range map[string]uuid.UUID{"a circle": circle, "a batch that is not here": {1}} {
		if got := use(`{"batch":{"id":"` + id.String() + `"}}`); !got.SolventsOpen || len(got.Solids) > 0 {
			t.Errorf("%s: got %+v, want it left open", name, got)
		}
	}
	if got := use(`{"words":{"verbatim":"wax","certainty":"inferred"}}`); len(got.Candidates) < 2 ||
		got.Verbatim != "wax" {
		t.Errorf("got %+v, want what such words may mean", got)
	}
	if got := use(`{"words":{"verbatim":"wax","certainty":"inferred","candidates":["beeswax"]}}`); len(got.Candidates) != 1 {
		t.Errorf("got %+v, want what the record says alone", got)
	}
}
