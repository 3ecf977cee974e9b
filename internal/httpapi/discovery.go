package httpapi

import (
	"encoding/json"
	"net/http"

	"github.com/labstack/echo/v4"
)

// linkset is RFC 9264's JSON form with the relations of RFC 8631.
type linkset struct {
	Linkset []linkContext `json:"linkset"`
}

type linkContext struct {
	Anchor      string   `json:"anchor"`
	ServiceDesc []target `json:"service-desc"`
	ServiceDoc  []target `json:"service-doc"`
	Status      []target `json:"status"`
}

type target struct {
	Href string `json:"href"`
	Type string `json:"type"`
}

const catalogType = `application/linkset+json; profile="https://www.rfc-editor.org/info/rfc9727"`

// apiCatalog says where the contract, its reference and the health are (RFC 9727).
func (s *Server) apiCatalog() echo.HandlerFunc {
	body, _ := json.Marshal(linkset{[]linkContext{{ // plain texts cannot fail to encode
		Anchor: s.publicURL + "/v1",
		ServiceDesc: []target{
			{s.publicURL + "/openapi.json", "application/openapi+json"},
			{s.publicURL + "/openapi.yaml", "application/openapi+yaml"},
		},
		ServiceDoc: []target{{s.publicURL + "/docs", "text/html"}},
		Status:     []target{{s.publicURL + "/readyz", "application/json"}},
	}}})
	page := echoBytes(catalogType, body)
	return func(ec echo.Context) error {
		ec.Response().Header().Set("Link", "<"+s.publicURL+`/.well-known/api-catalog>; rel="api-catalog"`)
		return page(ec)
	}
}

// root leads people to the reference, and programs to the contract.
func (s *Server) root(ec echo.Context) error {
	h := ec.Response().Header()
	h.Add("Link", "<"+s.publicURL+`/openapi.json>; rel="service-desc"; type="application/openapi+json"`)
	h.Add("Link", "<"+s.publicURL+`/.well-known/api-catalog>; rel="api-catalog"`)
	return ec.Redirect(http.StatusFound, "docs")
}
