package httpapi_test

import (
	"fmt"
	"math/rand"
	"net/http"
	"strings"
	"testing"

	"meniscus/internal/quantity"
)

// TestLabelAndContentsAgree asks, of batches to which all sorts of things happened,
// for the strength now: the label says what the contents say.
func TestLabelAndContentsAgree(t *testing.T) {
	t.Parallel()
	s := newService(t)
	solvent := s.create("/v1/supplies", object{"code": "S-9", "material": object{"id": "acetone"}}).id()
	pure := s.create("/v1/batches", object{"code": "P", "kind": "solution", "finished": ml(500), "inputs": array{
		into(object{"supply": of(solvent)}, "solvent", ml(500))}}).id()
	grams := func(x float64) object { return object{"quantity": object{"value": x, "unit": "g"}} }
	random := rand.New(rand.NewSource(1))
	pick := func(list ...any) any { return list[random.Intn(len(list))] }
	for n := range 40 {
		resin := into(object{"material": object{"id": "ethyl-methacrylate-methyl-acrylate-copolymer"}}, "solute", object{"quantity": object{"value": 30, "unit": "g"}})
		jar := s.create("/v1/batches", object{"code": fmt.Sprint("J-", n), "kind": "solution", "finished": pick(ml(150), grams(140), object{"answer": "unknown"}),
			"inputs": array{resin, into(object{"supply": of(solvent)}, "solvent", pick(ml(120), object{"answer": "unknown"}).(object))}}).id()
		bottle := s.do(http.MethodPost, "/v1/batches/"+jar+"/bottles", object{"bottles": array{object{"code": fmt.Sprint("F-", n), "amount": object{"value": 60, "unit": pick("mL", "g")}}}},
			header{"Idempotency-Key", fmt.Sprint("fill-", n)}).want(201).at("items", 0, "id").(string)
		for range 1 + random.Intn(3) {
			change := object{"batch": of(pick(jar, bottle).(string)), "kind": pick("evaporated", "topped-up", "topped-up", "used", "corrected-by-weighing"),
				"amount": pick(ml(10), ml(25), grams(8), object{"answer": "unknown"})}
			if when := pick("", "2024", "2024~", "2024-05", "2025-01"); when != "" {
				change["date"] = object{"edtf": when}
			}
			if change["kind"] == "topped-up" {
				change["with"] = pick(object{"supply": of(solvent)}, object{"material": object{"id": "acetone"}}, object{"batch": of(jar)}, object{"batch": of(pure)}, object{"words": object{"verbatim": "thinner", "certainty": "unknown"}})
				if fmt.Sprint(change["with"]) == fmt.Sprint(object{"batch": of(jar)}) {
					change["batch"] = of(bottle)
				}
			}
			s.create("/v1/amount-changes", change)
		}
		for _, id := range []string{jar, bottle} {
			contents := s.do(http.MethodGet, "/v1/batches/"+id+"/contents?detail=full", nil).want(200)
			label := s.do(http.MethodGet, "/v1/batches/"+id+"/label", nil).want(200)
			value, known := contents.at("now", "strength", "value").(float64)
			says := saying(label, 0, "strength-now")
			if known && strings.Contains(says, "not known") || says != "" && !strings.Contains(says, "not known") && !strings.Contains(says, "Now "+quantity.Digits(value, 3)+" ") {
				t.Errorf("the contents have a strength now (%v) of %v, and the label says %q: %s", known, value, says, contents.body)
			}
		}
	}
}
