package httpapi_test

import (
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/labstack/echo/v4"

	"meniscus/api"
	"meniscus/internal/httpapi"
	"meniscus/internal/wire"
)

// BenchmarkCompute tells what a computation costs, in brief and in full, beside the least
// that a service of this contract does with the same body: read it, judge it against its
// schema, and answer with a value (least).
func BenchmarkCompute(b *testing.B) {
	doc, err := api.Document()
	if err != nil {
		b.Fatal(err)
	}
	served := mustServe(b, httpapi.Config{})
	for _, x := range []struct{ path, body string }{
		{"/v1/compute/make-up", `{"resin": {"solid": {"material": "ethyl-methacrylate-methyl-acrylate-copolymer"}},
			"solvent": {"liquid": {"material": "acetone"}}, "amount": {"finished": {"value": 150, "unit": "mL"}},
			"strength": {"value": 20, "unit": "g/dL", "basis": "mass-per-solution-volume"}}`},
		{"/v1/compute/dilute", `{"stock": {"solution": {"solute": {"material": "ethyl-methacrylate-methyl-acrylate-copolymer"},
			"solvent": {"liquid": {"material": "acetone"}}, "strength": {"value": 20, "unit": "g/dL",
			"basis": "mass-per-solution-volume"}}}, "strength": {"basis": "parts-by-volume", "parts": [1, 3]},
			"amount": {"finished": {"value": 100, "unit": "mL"}}}`},
	} {
		name := strings.TrimPrefix(x.path, "/v1/compute/")
		b.Run(name+"/brief", func(b *testing.B) { serveAgain(b, served, x.path, x.body) })
		b.Run(name+"/full", func(b *testing.B) { serveAgain(b, served, x.path+"?detail=full", x.body) })
		schema := doc.Paths.Find(x.path).Post.RequestBody.Value.Content.Get("application/json").Schema.Value
		b.Run(name+"/least", func(b *testing.B) { serveAgain(b, least(x.path, schema), x.path, x.body) })
	}
}

func serveAgain(b *testing.B, h http.Handler, path, body string) {
	b.ReportAllocs()
	for b.Loop() {
		r := httptest.NewRequestWithContext(b.Context(), http.MethodPost, path, strings.NewReader(body))
		r.Header.Set("Content-Type", "application/json")
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		if w.Code != http.StatusOK {
			b.Fatalf("got %d: %s", w.Code, w.Body)
		}
	}
}

// least answers one path with as little as there can be.
func least(path string, schema *openapi3.Schema) http.Handler {
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
		return c.JSON(http.StatusOK, api.Quantity{})
	})
	return e
}
