package httpapi

import (
	"slices"
	"strings"
	"testing"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/labstack/echo/v4"

	"meniscus/api"
)

// An operation without a handler, and a handler without an operation, keep the
// service from starting.
func TestEveryOperationHasItsHandler(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		change func(*openapi3.T)
		want   string
	}{
		"an operation too many": {func(doc *openapi3.T) {
			doc.Paths.Set("/v1/nothing", &openapi3.PathItem{Get: &openapi3.Operation{OperationID: "readNothing", Extensions: map[string]any{"x-work": "read"}, Responses: openapi3.NewResponses()}})
		}, "readNothing of the contract has no handler"},
		"no class of work": {func(doc *openapi3.T) { delete(doc.Paths.Find("/v1/institution").Get.Extensions, "x-work") }, "readInstitution needs its class of work"},
		"an unknown class": {func(doc *openapi3.T) { doc.Paths.Find("/v1/institution").Get.Extensions["x-work"] = "leisure" }, "readInstitution needs its class of work"},
		"a filter too many": {func(doc *openapi3.T) {
			list := doc.Paths.Find("/v1/people").Get
			list.Parameters = append(list.Parameters, &openapi3.ParameterRef{Value: openapi3.NewQueryParameter("height").WithSchema(openapi3.NewFloat64Schema())})
		}, "the parameter height of listPeople has no filter that asks for number"},
		"a filter of another sort": {func(doc *openapi3.T) {
			doc.Paths.Find("/v1/plans").Get.Parameters.GetByInAndName("query", "authorised").Schema = openapi3.NewStringSchema().NewRef()
		}, "the parameter authorised of listPlans has no filter that asks for text"},
		"a filter too few": {func(doc *openapi3.T) {
			list := doc.Paths.Find("/v1/treatments").Get
			list.Parameters = slices.DeleteFunc(list.Parameters, func(p *openapi3.ParameterRef) bool { return p.Value.Name == "event" })
		}, "the filter event of a treatment is no parameter of listTreatments"},
		"a handler too many": {func(doc *openapi3.T) { doc.Paths.Delete("/v1/institution") }, "readInstitution has no operation"},
	} {
		doc, err := openapi3.NewLoader().LoadFromData(api.YAML)
		if err != nil {
			t.Fatal(err)
		}
		c.change(doc)
		s := &Server{echo: echo.New()}
		if err := s.mount(doc); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: got %v, want %q", name, err, c.want)
		}
	}
}

// The visitor that judges bodies overlooks some keywords; the contract has none
// of them.
func TestContractStaysInTheHouseSubset(t *testing.T) {
	t.Parallel()
	for _, keyword := range []string{"const:", "propertyNames:", "prefixItems:", "if:", "then:", "unevaluatedProperties:", "patternProperties:", "dependentSchemas:", "contentEncoding:", "nullable:"} {
		for i, line := range strings.Split(string(api.YAML), "\n") {
			if strings.HasPrefix(strings.TrimSpace(line), keyword) {
				t.Errorf("line %d of the contract has %s which the visitor overlooks", i+1, keyword)
			}
		}
	}
}
