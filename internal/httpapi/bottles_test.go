package httpapi_test

import (
	"net/http"
	"testing"

	"github.com/google/uuid"
)

// A fault in a request to fill bottles points at the member of the request that
// it is about, whatever the statement of a bottle calls it.
func TestFaultsOfBottlesPointIntoTheRequest(t *testing.T) {
	t.Parallel()
	s := newService(t)
	jar := s.create("/v1/batches", object{"code": "B-1", "kind": "solution"}).id()
	whole := object{"code": "B-1-1", "amount": object{"value": 20, "unit": "mL"}}
	with := func(name string, value any) array {
		bottle := object{name: value}
		for member, said := range whole {
			if member != name {
				bottle[member] = said
			}
		}
		return array{whole, bottle}
	}
	for name, c := range map[string]struct {
		body    object
		pointer string
		code    string
	}{
		"a person that nobody knows": {object{"bottles": array{whole}, "by": object{"id": uuid.NewString()}}, "/by/id", "person-unknown"},
		"a day that never was":       {object{"bottles": array{whole, whole}, "filled": object{"edtf": "2021-02-30"}}, "/filled/edtf", "date-does-not-exist"},
		"an amount in degrees":       {object{"bottles": with("amount", object{"value": 5, "unit": "Cel"})}, "/bottles/1/amount/unit", "unit-of-another-kind"},
		"a container of what is not": {object{"bottles": with("container", object{"material": "glass", "capacity": object{"value": 5, "unit": "Cel"}})}, "/bottles/1/container/capacity/unit", "unit-of-another-kind"},
		"the jar in itself":          {object{"bottles": with("id", jar)}, "/bottles/1/id", "batch-made-from-itself"},
	} {
		r := s.do(http.MethodPost, "/v1/batches/"+jar+"/bottles", c.body, header{"Idempotency-Key", uuid.NewString()})
		if r.status != http.StatusUnprocessableEntity || r.at("errors", 0, "pointer") != c.pointer || r.at("errors", 0, "code") != c.code {
			t.Errorf("%s: got %d %s, want %s at %s alone", name, r.status, r.body, c.code, c.pointer)
		}
	}
}
