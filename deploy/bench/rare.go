package main

import (
	"context"
	"fmt"

	"meniscus/deploy/bench/caller"
)

// rare is what there is as much of in a museum of any size.
type rare struct {
	history string // a specimen with twenty treatments
	layers  string // a specimen with two hundred layers
	supply  string // a supply that 63 batches were made of, in six generations
	person  string // carried out thirteen treatments, with a material, on days and on an area that no other has
}

const (
	rareMonth = "2021-03"
	rareArea  = "sternum/keel"
)

// recordRare records it.
func recordRare(ctx context.Context, c caller.Client) (r rare, err error) {
	record := func(into *string, path string, statement caller.Object) {
		if err == nil {
			*into, err = c.Create(ctx, path, statement)
		}
	}
	var last string
	specimen := func(into *string, number string) {
		record(into, "/v1/specimens", caller.Object{"collection": "palaeontology", "bodyKind": "bone", "condition": "dry",
			"identifiers": caller.Array{caller.Object{"kind": "catalogue-number", "value": number}}})
	}
	treated := func(specimen, action, day string, more caller.Object) {
		st := caller.Object{"specimen": caller.Object{"id": specimen}, "action": action, "dates": caller.Object{"edtf": day},
			"areas": caller.Object{"paths": caller.Array{"skull"}}}
		for name, value := range more {
			st[name] = value
		}
		record(&last, "/v1/treatments", st)
	}
	using := func(role string, used caller.Object) caller.Object {
		return caller.Object{"materials": caller.Array{caller.Object{"used": used, "role": role}}}
	}
	specimen(&r.history, "LV.2024/1")
	for n := range 20 {
		treated(r.history, "cleaning", fmt.Sprint(1990+n), nil)
	}
	record(&r.supply, "/v1/supplies", caller.Object{"code": "S-9-1",
		"material": caller.Object{"id": "ethyl-methacrylate-methyl-acrylate-copolymer"}})
	var batch [63]string
	for n := range batch {
		from := caller.Object{"supply": caller.Object{"id": r.supply}}
		if n > 0 {
			from = caller.Object{"batch": caller.Object{"id": batch[(n-1)/2]}}
		}
		record(&batch[n], "/v1/batches", caller.Object{"code": fmt.Sprintf("B-9-%d", n), "kind": "dilution", "inputs": caller.Array{
			caller.Object{"from": from, "part": "stock", "amount": caller.Object{"quantity": caller.Object{"value": 25, "unit": "mL"}}},
			caller.Object{"from": caller.Object{"material": caller.Object{"id": "acetone"}}, "part": "solvent",
				"amount": caller.Object{"quantity": caller.Object{"value": 75, "unit": "mL"}}}}})
	}
	specimen(&r.layers, "LV.2024/2")
	coats := []string{"ethyl-methacrylate-methyl-acrylate-copolymer", "pvb-high-hydroxyl", "cellulose-nitrate", "shellac"}
	for n := range 200 {
		treated(r.layers, "coating", fmt.Sprintf("19%02d-%02d-01", 20+n/10, 1+n%10),
			using("coating", caller.Object{"material": caller.Object{"id": coats[n%3], "certainty": "documented"}}))
	}
	var used string
	specimen(&used, "LV.2024/3")
	for n, b := range batch {
		treated(used, "consolidation", fmt.Sprintf("2019-%02d-02", 1+n%12),
			using("consolidant", caller.Object{"batch": caller.Object{"id": b}}))
	}
	record(&r.person, "/v1/people", caller.Object{"name": "Nadia Okeke"})
	for n := range 13 {
		more := using("coating", caller.Object{"material": caller.Object{"id": coats[3], "certainty": "documented"}})
		more["areas"] = caller.Object{"paths": caller.Array{rareArea}}
		more["people"] = caller.Array{caller.Object{"person": caller.Object{"id": r.person}, "part": "carried-out"}}
		treated(used, "coating", fmt.Sprintf("%s-%02d", rareMonth, 1+n), more)
	}
	return r, err
}
