// Package seed fills a museum's record with any number of treatments, the same ones each time. A
// year of work is recorded through the service, which projects it and works out its layers; all
// other years are copies of its rows with other ids, numbers and dates, put in with COPY. So each
// table holds what the service itself would have put there, and verify finds nothing wrong.
package seed

import (
	"context"
	"fmt"
	"math/rand/v2"
	"net/http"

	"meniscus/deploy/bench/caller"
)

// What a year of work is. Its words have the tokens that a copy replaces.
const (
	Treatments = 200 // of a year
	specimens  = 40
	batches    = 15
	// People are those who carry out the treatments, each as many.
	People = 100

	firstYear   = 1950 // copies are of this year and the fifty after it
	numberToken = "9000000"
	yearToken   = "1950-"
	idToken     = "01800000" // how every id begins that the recorder chooses
)

// Person is the id of one of the people.
func Person(n int) string { return fmt.Sprintf("00e00000-0000-7000-8000-%012d", n) }

func chosen(kind, n int) string { return fmt.Sprintf("%s-0000-7000-8000-%04d%08d", idToken, kind, n) }

// Specimen, Batch and Treatment are ids of a year's records: 0 is the first that was recorded.
func Specimen(n int) string { return chosen(1, n) }

// AnySpecimen is the id of a specimen that was not merged, in a museum of so many treatments.
func AnySpecimen(treatments int) string {
	return fmt.Sprintf("%08x%s", 0x01800000+rand.IntN(treatments/Treatments), Specimen(rand.IntN(specimens - 2))[len(idToken):])
}

// Batch is the id of a batch of the first year.
func Batch(n int) string { return chosen(3, n) }

// Treatment is the id of a treatment of the first year.
func Treatment(n int) string { return chosen(4, n) }

// recordPeople records who carries out the treatments; they are nobody's copies.
func recordPeople(ctx context.Context, c caller.Client) error {
	for n := range People {
		if _, err := c.CreateAs(ctx, "/v1/people", Person(n), caller.Object{"name": fmt.Sprintf("Conservator %d", n)}); err != nil {
			return err
		}
	}
	return nil
}

func ref(id string) caller.Object { return caller.Object{"id": id} }

func quantity(value float64, unit string) caller.Object {
	return caller.Object{"quantity": caller.Object{"value": value, "unit": unit}}
}

// recordYear records the year that is copied.
func recordYear(ctx context.Context, c caller.Client) error {
	for n := range specimens {
		if _, err := c.CreateAs(ctx, "/v1/specimens", Specimen(n), caller.Object{
			"identifiers": caller.Array{caller.Object{"kind": "catalogue-number", "value": fmt.Sprintf("LV.%s/%d", numberToken, n)}},
			"collection":  "palaeontology", "bodyKind": "bone", "condition": "dry"}); err != nil {
			return err
		}
	}
	supplies := []string{"ethyl-methacrylate-methyl-acrylate-copolymer", "acetone", "pvb-high-hydroxyl", "ethanol"}
	for n, material := range supplies {
		if _, err := c.CreateAs(ctx, "/v1/supplies", chosen(2, n), caller.Object{"code": fmt.Sprintf("S-%s-%d", numberToken, n),
			"material": ref(material), "received": caller.Object{"edtf": yearToken + "01-05"}}); err != nil {
			return err
		}
	}
	for n := range batches {
		if err := recordBatch(ctx, c, n); err != nil {
			return err
		}
	}
	for n := range Treatments {
		if _, err := c.CreateAs(ctx, "/v1/treatments", Treatment(n), treatment(n)); err != nil {
			return err
		}
	}
	_, err := c.Send(ctx, http.MethodPost, "/v1/specimens/"+Specimen(specimens-1)+"/merge", caller.Object{
		"into": ref(Specimen(specimens - 2)), "reason": "Catalogued a second time."}, map[string]string{"If-Match": "*"})
	return err
}

// recordBatch makes the first two batches of resins and the others as dilutions of earlier ones, each the stock of two.
func recordBatch(ctx context.Context, c caller.Client, n int) error {
	from := func(of caller.Object, part string, amount caller.Object) caller.Object {
		return caller.Object{"from": of, "part": part, "amount": amount}
	}
	supply := func(n int) caller.Object { return caller.Object{"supply": ref(chosen(2, n))} }
	kind, inputs := "dilution", caller.Array{
		from(caller.Object{"batch": ref(Batch((n - 1) / 2))}, "stock", quantity(25, "mL")), from(supply(1), "solvent", quantity(75, "mL"))}
	if n < 2 {
		kind = "solution"
		inputs = caller.Array{from(supply(2*n), "solute", quantity(100, "g")), from(supply(2*n+1), "solvent", quantity(330, "g"))}
	}
	_, err := c.CreateAs(ctx, "/v1/batches", Batch(n), caller.Object{"code": fmt.Sprintf("B-%s-%d", numberToken, n), "kind": kind,
		"made": caller.Object{"edtf": yearToken + "02-10"}, "inputs": inputs, "state": "in-use"})
	return err
}

// treatment is one of a year: two fifths bring a batch onto the specimen, and one in ten is of
// unknown areas.
func treatment(n int) caller.Object {
	st := caller.Object{"specimen": ref(Specimen(n % specimens)), "action": "cleaning",
		"dates":   caller.Object{"edtf": fmt.Sprintf("%s%02d-%02d", yearToken, 3+n%9, 1+n%28)},
		"areas":   caller.Object{"paths": caller.Array{fmt.Sprintf("skull/area-%d", n%17)}},
		"people":  caller.Array{caller.Object{"person": ref(Person(n % People)), "part": "carried-out"}},
		"purpose": caller.Object{"text": "Flaking of the surface along the suture, powder on the padding of the drawer"}}
	if n%10 == 9 {
		st["areas"] = caller.Object{"answer": "unknown"}
	}
	use := func(action, role string, used caller.Object) {
		st["action"], st["materials"] = action, caller.Array{caller.Object{"used": used, "role": role}}
	}
	switch n / specimens % 5 {
	case 0:
		use("consolidation", "consolidant", caller.Object{"batch": ref(Batch(n % batches))})
	case 2:
		use("coating", "coating", caller.Object{"batch": ref(Batch(n * 7 % batches))})
	case 4:
		use("joining", "adhesive", caller.Object{"material": caller.Object{"id": "cellulose-nitrate", "certainty": "inferred"}})
	}
	return st
}
