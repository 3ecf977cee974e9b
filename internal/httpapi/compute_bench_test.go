package httpapi_test

import (
	"io"
	"net/http"
	"net/http/httptest"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/labstack/echo/v4"

	"meniscus/api"
	"meniscus/internal/httpapi"
	"meniscus/internal/wire"
)

// benched are two computations of the bench, and the most allocations that each may take in brief.
var benched = []struct {
	name, body string
	most       float64
}{
	{"make-up", `{"resin": {"solid": {"material": "ethyl-methacrylate-methyl-acrylate-copolymer"}},
		"solvent": {"liquid": {"material": "acetone"}}, "amount": {"finished": {"value": 150, "unit": "mL"}},
		"strength": {"value": 20, "unit": "g/dL", "basis": "mass-per-solution-volume"}}`, 395},
	{"dilute", `{"stock": {"solution": {"solute": {"material": "ethyl-methacrylate-methyl-acrylate-copolymer"},
		"solvent": {"liquid": {"material": "acetone"}}, "strength": {"value": 20, "unit": "g/dL",
		"basis": "mass-per-solution-volume"}}}, "strength": {"basis": "parts-by-volume", "parts": [1, 3]},
		"amount": {"finished": {"value": 100, "unit": "mL"}}}`, 450},
}

// BenchmarkCompute tells what a computation costs, in brief and in full, beside the least that a service of this
// contract does with the same body and an answer of the same size (least). The brief answer and the least take
// turns, so that a busy machine slows both alike; least/brief is the ratio of their medians.
func BenchmarkCompute(b *testing.B) {
	served := mustServe(b, httpapi.Config{})
	for _, x := range benched {
		path := "/v1/compute/" + x.name
		b.Run(x.name+"/brief", func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				served200(b, served, path, x.body)
			}
		})
		b.Run(x.name+"/full", func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				served200(b, served, path+"?detail=full", x.body)
			}
		})
		b.Run(x.name+"/ratio", func(b *testing.B) {
			least := least(b, path, served200(b, served, path, x.body))
			var took [2][]time.Duration
			for b.Loop() {
				for i, h := range []http.Handler{served, least} {
					began := time.Now()
					served200(b, h, path, x.body)
					took[i] = append(took[i], time.Since(began))
				}
			}
			b.ReportMetric(float64(median(took[1]))/float64(median(took[0])), "least/brief")
			b.ReportMetric(testing.AllocsPerRun(10, func() { served200(b, least, path, x.body) }), "least-allocs")
		})
	}
}

// A brief answer takes no more allocations than it did. The bounds are a little above what was counted.
func TestComputationsAllocateLittle(t *testing.T) {
	served := mustServe(t, httpapi.Config{})
	for _, x := range benched {
		got := testing.AllocsPerRun(20, func() { served200(t, served, "/v1/compute/"+x.name, x.body) })
		if got > x.most {
			t.Errorf("%s took %v allocations, want at most %v", x.name, got, x.most)
		}
	}
}

func median(all []time.Duration) time.Duration {
	slices.Sort(all)
	return all[len(all)/2]
}

// served200 asks for a computation, and gives its answer.
func served200(t testing.TB, h http.Handler, path, body string) []byte {
	r := httptest.NewRequestWithContext(t.Context(), http.MethodPost, path, strings.NewReader(body))
	r.Header.Set("Content-Type", "application/json")
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	if w.Code != http.StatusOK {
		t.Fatalf("got %d: %s", w.Code, w.Body)
	}
	return w.Body.Bytes()
}

// least answers one path with as little as there can be: it decodes the body, judges it by its schema, decodes it
// into its type, and encodes an answer that was decoded before.
func least(b *testing.B, path string, answer []byte) http.Handler {
	doc, err := api.Document()
	if err != nil {
		b.Fatal(err)
	}
	schema := doc.Paths.Find(path).Post.RequestBody.Value.Content.Get("application/json").Schema.Value
	var request, told any = &api.MakeUpRequest{}, &api.MakeUpAnswer{}
	if strings.HasSuffix(path, "dilute") {
		request, told = &api.DiluteRequest{}, &api.DiluteAnswer{}
	}
	if err := wire.Decode(answer, told); err != nil {
		b.Fatal(err)
	}
	asked := reflect.TypeOf(request).Elem()
	e := echo.New()
	e.POST(path, func(c echo.Context) error {
		body, err := io.ReadAll(c.Request().Body)
		if err != nil {
			return err
		}
		var value any
		if err := wire.Decode(body, &value); err != nil {
			return err
		}
		if err := schema.VisitJSON(value, openapi3.MultiErrors(), openapi3.VisitAsRequest()); err != nil {
			return err
		}
		if err := wire.Decode(body, reflect.New(asked).Interface()); err != nil {
			return err
		}
		return c.JSON(http.StatusOK, told)
	})
	return e
}
