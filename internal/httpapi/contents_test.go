package httpapi_test

import (
	"math"
	"net/http"
	"strconv"
	"strings"
	"testing"
)

// A batch filled to the mark, its dilution one to three, and bottles of that:
// common practice says 20, 5 and 5 g per 100 mL. More taken out than there was is
// recorded, with a finding.
func TestBatchContents(t *testing.T) {
	t.Parallel()
	s := newService(t)
	resin := s.create("/v1/supplies",
		object{"code": "S-1", "material": object{"id": "ethyl-methacrylate-methyl-acrylate-copolymer"}}).id()
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
		got := s.do(http.MethodGet, "/v1/batches/"+id+"/contents?detail=full", nil).want(200)
		strength, _ := got.at("now", "strength", "value").(float64)
		left, _ := got.at("now", "remaining", "value").(float64)
		if math.Abs(strength-want.strength) > 1e-6 || math.Abs(left-want.left) > 1e-6 {
			t.Errorf("got %v g/dL and %v mL left, want %v and %v: %s", strength, left, want.strength, want.left, got.body)
		}
	}
	s.create("/v1/amount-changes", object{"batch": object{"id": bottle}, "kind": "used", "amount": measured(45, "mL"), "date": object{"edtf": "2024"}})
	if got := s.do(http.MethodGet, "/v1/batches/"+bottle+"/contents?detail=full", nil).want(200); got.at("findings", 0, "rule") != "stock-below-zero" {
		t.Errorf("got %s, want the finding that more left than there was", got.body)
	}
}

// A bottle filled after solvent had evaporated, and a second one after more had
// been added, each have the strength of their day, here and where it is
// published: 30 g in 150 mL are 20 g/dL, in 120 mL 25; of those 20 mL go, and
// the 25 g in the other 100 mL and 100 mL more are 12.5.
func TestABottleHasTheStrengthOfItsDay(t *testing.T) {
	t.Parallel()
	s := newService(t)
	resin := s.create("/v1/supplies",
		object{"code": "S-1", "material": object{"id": "ethyl-methacrylate-methyl-acrylate-copolymer"}}).id()
	solvent := s.create("/v1/supplies", object{"code": "S-2", "material": object{"id": "acetone"}}).id()
	jar := s.create("/v1/batches", object{"code": "B-1", "kind": "solution", "finished": ml(150), "inputs": array{
		into(object{"supply": of(resin)}, "solute", object{"quantity": object{"value": 30, "unit": "g"}}),
		into(object{"supply": of(solvent)}, "solvent", object{"answer": "unknown"})}}).id()
	change := func(kind, date string, amount float64, with object) {
		st := object{"batch": of(jar), "kind": kind, "amount": ml(amount), "date": object{"edtf": date}}
		if with != nil {
			st["with"] = with
		}
		s.create("/v1/amount-changes", st)
	}
	bottle := func(date string) string {
		return s.do(http.MethodPost, "/v1/batches/"+jar+"/bottles", object{"filled": object{"edtf": date}, "bottles": array{object{"code": "of " + date, "amount": object{"value": 20, "unit": "mL"}}}},
			header{"Idempotency-Key", date}).want(201).at("items", 0, "id").(string)
	}
	strong, weak := bottle("2024-06-02"), bottle("2024-08")
	change("topped-up", "2024-07-01", 100, object{"supply": of(solvent)}) // recorded out of order
	change("evaporated", "2024-06-01", 30, nil)
	skull := s.create("/v1/specimens", specimen("LV.1")).id()
	for id, want := range map[string]float64{strong: 25, weak: 12.5} {
		got := s.do(http.MethodGet, "/v1/batches/"+id+"/contents?detail=full", nil).want(200)
		if strength, _ := got.at("now", "strength", "value").(float64); math.Abs(strength-want) > 1e-3 {
			t.Errorf("got %v g/dL, want %v: %s", strength, want, got.body)
		}
		coat := treatment(skull, "coating", "2024-09")
		coat["materials"] = array{object{"used": object{"batch": of(id)}}}
		page := s.as(asPage, "/v1/treatments/"+s.create("/v1/treatments", coat).id()).want(200).body
		if said := strconv.FormatFloat(want, 'f', -1, 64); !strings.Contains(string(page), said) {
			t.Errorf("got %s, want %s g/dL", page, said)
		}
	}
}

// What was not measured is said, and nothing is guessed.
func TestBatchContentsUnknown(t *testing.T) {
	t.Parallel()
	s := newService(t)
	old := s.create("/v1/batches", object{"code": "old jar", "kind": "solution", "inputs": array{
		object{"from": object{"words": object{"verbatim": "clear varnish", "certainty": "unknown"}}, "part": "solute", "amount": object{"answer": "unknown"}}}}).id()
	got := s.do(http.MethodGet, "/v1/batches/"+old+"/contents?detail=full", nil).want(200)
	if got.at("asMade") != nil || len(got.at("unknownBecause").([]any)) == 0 || got.at("now", "knowledge") != "unknown" {
		t.Errorf("got %s, want it said that nobody knows", got.body)
	}
}

// What it held is said with its strength once, also where no uncertainty was given.
func TestContentsSayTheStrengthOnce(t *testing.T) {
	t.Parallel()
	s := newService(t)
	resin := s.create("/v1/supplies",
		object{"code": "S-1", "material": object{"id": "ethyl-methacrylate-methyl-acrylate-copolymer"}}).id()
	solvent := s.create("/v1/supplies", object{"code": "S-2", "material": object{"id": "acetone"}}).id()
	jar := s.create("/v1/batches", object{"code": "B-1", "kind": "solution", "finished": ml(150), "inputs": array{
		into(object{"supply": of(resin)}, "solute", object{"quantity": object{"value": 30, "unit": "g"}}),
		into(object{"supply": of(solvent)}, "solvent", object{"answer": "unknown"})}}).id()
	answer, _ := s.do(http.MethodGet, "/v1/batches/"+jar+"/contents", nil).want(200).at("answer").(string)
	if strings.Count(answer, "20 g per 100 mL") != 1 || !strings.Contains(answer, "(no uncertainty was given, so none is stated)") {
		t.Errorf("got %q, want the strength once", answer)
	}
}
