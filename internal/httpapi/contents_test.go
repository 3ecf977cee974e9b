package httpapi_test

import (
	"math"
	"net/http"
	"testing"
)

// A batch filled to the mark, its dilution one to three, and bottles of that:
// common practice says 20, 5 and 5 g per 100 mL. More taken out than there was is
// recorded, with a finding.
func TestBatchContents(t *testing.T) {
	t.Parallel()
	s := newService(t)
	resin := s.create("/v1/supplies", object{"code": "S-1", "material": object{"id": "ethyl-methacrylate-methyl-acrylate-copolymer"}}).id()
	solvent := s.create("/v1/supplies", object{"code": "S-2", "material": object{"id": "acetone"}}).id()
	from := func(kind, id, part string, amount object) object {
		return object{"from": object{kind: object{"id": id}}, "part": part, "amount": amount}
	}
	measured := func(value float64, unit string) object {
		return object{"quantity": object{"value": value, "unit": unit}}
	}
	batch := s.create("/v1/batches", object{"code": "B-1", "kind": "solution", "finished": measured(150, "mL"), "inputs": array{
		from("supply", resin, "solute", measured(30, "g")), from("supply", solvent, "solvent", object{"answer": "unknown"})}}).id()
	dilution := s.create("/v1/batches", object{"code": "B-2", "kind": "dilution", "inputs": array{
		from("batch", batch, "stock", measured(25, "mL")), from("supply", solvent, "solvent", measured(75, "mL"))}}).id()
	bottle := s.do(http.MethodPost, "/v1/batches/"+dilution+"/bottles", object{"bottles": array{object{"code": "B-2-1", "amount": object{"value": 40, "unit": "mL"}}}},
		header{"Idempotency-Key", "one"}).want(201).at("items", 0, "id").(string)

	for id, want := range map[string]struct{ strength, left float64 }{batch: {20, 125}, dilution: {5, 60}, bottle: {5, 40}} {
		got := s.do(http.MethodGet, "/v1/batches/"+id+"/contents", nil).want(200)
		strength, _ := got.at("now", "strength", "value").(float64)
		left, _ := got.at("now", "remaining", "value").(float64)
		if math.Abs(strength-want.strength) > 1e-6 || math.Abs(left-want.left) > 1e-6 {
			t.Errorf("got %v g/dL and %v mL left, want %v and %v: %s", strength, left, want.strength, want.left, got.body)
		}
	}
	s.create("/v1/amount-changes", object{"batch": object{"id": bottle}, "kind": "used", "amount": measured(45, "mL"), "date": object{"edtf": "2024"}})
	if got := s.do(http.MethodGet, "/v1/batches/"+bottle+"/contents", nil).want(200); got.at("findings", 0, "rule") != "stock-below-zero" {
		t.Errorf("got %s, want the finding that more left than there was", got.body)
	}
}

// What was not measured is said, and nothing is guessed.
func TestBatchContentsUnknown(t *testing.T) {
	t.Parallel()
	s := newService(t)
	old := s.create("/v1/batches", object{"code": "old jar", "kind": "solution", "inputs": array{
		object{"from": object{"words": object{"verbatim": "clear varnish", "certainty": "unknown"}}, "part": "solute", "amount": object{"answer": "unknown"}}}}).id()
	got := s.do(http.MethodGet, "/v1/batches/"+old+"/contents", nil).want(200)
	if got.at("asMade") != nil || len(got.at("unknownBecause").([]any)) == 0 || got.at("now", "knowledge") != "unknown" {
		t.Errorf("got %s, want it said that nobody knows", got.body)
	}
}
