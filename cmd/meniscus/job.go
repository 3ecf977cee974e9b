package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"strings"
	"time"

	"github.com/google/uuid"
)

// welcome is a format for the address, the key, and the address twice.
const welcome = `
Meniscus is at %s with an invented museum. The reference is at /docs.

  export KEY=%s
  export AT=%s

How to make 150 mL at 20 g per 100 mL of solution (no key needed):
  curl -s $AT/v1/compute/make-up -H "Content-Type: application/json" -d '{
    "resin": {"solid": {"material": "ethyl-methacrylate-methyl-acrylate-copolymer"}}, "solvent": {"liquid": {"material": "acetone"}},
    "strength": {"value": 20, "unit": "g/dL", "basis": "mass-per-solution-volume"}, "amount": {"finished": {"value": 150, "unit": "mL"}}}'
What is known of a number that is nearly right:
  curl -s -H "Authorization: Bearer $KEY" "$AT/v1/specimen-lookup?number=LV.1987/42"
What is on the cave bear's skull, and would it come off:
  curl -s -H "Authorization: Bearer $KEY" "$AT/v1/specimens/01900000-0000-7000-8000-000000000022/present-state"
Which specimens a supply of resin touched:
  curl -s -H "Authorization: Bearer $KEY" "$AT/v1/supplies/01900000-0000-7000-8000-000000000005/where-used"
What a bottle holds, and what is left in it:
  curl -s -H "Authorization: Bearer $KEY" "$AT/v1/batches/01900000-0000-7000-8000-000000000019/contents"
Its label, to print:
  curl -s -H "Authorization: Bearer $KEY" -H "Accept: application/pdf" "$AT/v1/batches/01900000-0000-7000-8000-000000000019/label?capacity=100" > label.pdf

The cave bear's skull as a page for people (the museum is invented, so it is published and needs no key):
  %s/v1/specimens/01900000-0000-7000-8000-000000000022

Ctrl-C ends it; the data stays for the next time (--fresh starts over).
`

// jobStep is one request of the main job.
type jobStep struct {
	title   string
	method  string
	path    string   // {name} stands for the id that the step of that name made
	body    string   // {name} as in path
	name    string   // under which later steps use the answer's id
	accept  string   // the media type asked for, if not JSON
	shows   []string // the members of the answer that are printed; its beginning if none
	expects int      // the status
	settled string   // the path of a number in the answer; the request is repeated until it is zero
}

// settleWithin is how long an answer may take to settle.
const settleWithin = 30 * time.Second

// send makes the request, and repeats it until the answer has settled: a report lags
// until the worker has computed the new records.
func (step jobStep) send(ctx context.Context, c client, path string, body any) (int, []byte, error) {
	for began := time.Now(); ; time.Sleep(100 * time.Millisecond) {
		status, answer, err := c.send(ctx, step.method, path, body, step.headers())
		if err != nil || step.settled == "" || string(picked(answer, step.settled)) == "0" ||
			time.Since(began) > settleWithin {
			return status, answer, err
		}
	}
}

// doTheJob does the main job through the HTTP API, printing each request and
// answer briefly and the report at the end.
func doTheJob(ctx context.Context, c client, out io.Writer) error {
	ids := map[string]string{}
	for i, step := range jobSteps {
		fmt.Fprintf(out, "\n%d. %s\n   %s %s\n", i+1, step.title, step.method, fill(step.path, ids))
		var body any
		if step.body != "" {
			body = json.RawMessage(fill(step.body, ids))
		}
		status, answer, err := step.send(ctx, c, fill(step.path, ids), body)
		if err != nil && status != step.expects {
			return err
		}
		if status != step.expects {
			return fmt.Errorf("step %d was answered %d instead of %d: %s", i+1, status, step.expects, answer)
		}
		fmt.Fprintf(out, "   %d %s\n", status, step.brief(answer))
		if step.name != "" {
			ids[step.name] = idIn(answer)
		}
	}
	return nil
}

// headers gives each request its own Idempotency-Key and its media type.
func (step jobStep) headers() map[string]string {
	h := map[string]string{"Idempotency-Key": uuid.NewString()}
	if step.accept != "" {
		h["Accept"] = step.accept
	}
	return h
}

// fill replaces the names of earlier steps with their ids.
func fill(text string, ids map[string]string) string {
	for name, id := range ids {
		text = strings.ReplaceAll(text, "{"+name+"}", id)
	}
	return text
}

// idIn is the id of the record in an answer, or of the first one of several.
func idIn(answer []byte) string {
	var one struct {
		ID    string
		Items []struct{ ID string }
	}
	if json.Unmarshal(answer, &one) == nil && one.ID == "" && len(one.Items) > 0 {
		return one.Items[0].ID
	}
	return one.ID
}

// briefly is how many bytes of an answer are printed where shows is empty.
const briefly = 600

// brief is what is printed of an answer.
func (step jobStep) brief(answer []byte) string {
	if len(step.shows) == 0 {
		text := strings.TrimSpace(string(answer))
		if len(text) > briefly {
			return text[:briefly] + " …"
		}
		return text
	}
	var b strings.Builder
	for _, path := range step.shows {
		value, err := json.MarshalIndent(picked(answer, path), "   ", "  ")
		if err != nil {
			return string(answer)
		}
		fmt.Fprintf(&b, "\n   %s: %s", path, value)
	}
	return b.String()
}

// picked is a member of an answer by its path, such as remainder.notComputed.
func picked(answer []byte, path string) json.RawMessage {
	for _, name := range strings.Split(path, ".") {
		var members map[string]json.RawMessage
		if json.Unmarshal(answer, &members) != nil || members[name] == nil {
			return json.RawMessage("null")
		}
		answer = members[name]
	}
	return answer
}

// jobSteps is the main job, in the order in which it is done.
var jobSteps = []jobStep{
	{title: "How much resin for 150 mL at 20 g per 100 mL of solution?", method: http.MethodPost, path: "/v1/compute/make-up", expects: 200,
		body: `{"resin":{"solid":{"material":"ethyl-methacrylate-methyl-acrylate-copolymer"}},"solvent":{"liquid":{"material":"acetone"}},
			"strength":{"value":20,"unit":"g/dL","basis":"mass-per-solution-volume"},"amount":{"finished":{"value":150,"unit":"mL"}},
			"instruments":{"scale":{"readability":{"value":1,"unit":"g"}},"measure":{"readability":{"value":5,"unit":"mL"}}}}`,
		shows: []string{"answer", "steps", "advice.cautions"}},
	{title: "The same without a basis is refused, with every reading of the number", method: http.MethodPost, path: "/v1/compute/make-up", expects: 422,
		body: `{"resin":{"solid":{"material":"ethyl-methacrylate-methyl-acrylate-copolymer"}},"solvent":{"liquid":{"material":"acetone"}},
			"strength":{"value":20},"amount":{"finished":{"value":150,"unit":"mL"}}}`,
		shows: []string{"detail"}},
	{title: "One part of it to three parts of acetone", method: http.MethodPost, path: "/v1/compute/dilute", expects: 200,
		body: `{"stock":{"solution":{"solute":{"material":"ethyl-methacrylate-methyl-acrylate-copolymer"},"solvent":{"liquid":{"material":"acetone"}},
			"strength":{"value":20,"unit":"g/dL","basis":"mass-per-solution-volume"}}},
			"strength":{"basis":"parts-by-volume","parts":[1,3]},"amount":{"finished":{"value":100,"unit":"mL"}}}`,
		shows: []string{"answer", "steps"}},
	{title: "What else 20 % could have meant", method: http.MethodPost, path: "/v1/compute/convert", expects: 200,
		body: `{"stock":{"solution":{"solute":{"material":"ethyl-methacrylate-methyl-acrylate-copolymer"},"solvent":{"liquid":{"material":"acetone"}},
			"strength":{"value":20,"basis":"unknown"}}}}`,
		shows: []string{"answer", "readings"}},
	{title: "Record the resin", method: http.MethodPost, path: "/v1/supplies", name: "resin", expects: 201,
		body: `{"statement":{"code":"S-0200","material":{"id":"ethyl-methacrylate-methyl-acrylate-copolymer"},"received":{"edtf":"2026-01"}}}`},
	{title: "Record the solvent", method: http.MethodPost, path: "/v1/supplies", name: "solvent", expects: 201,
		body: `{"statement":{"code":"S-0201","material":{"id":"acetone"},"received":{"edtf":"2026-01"}}}`},
	{title: "Record the batch with what was really weighed", method: http.MethodPost, path: "/v1/batches", name: "batch", expects: 201,
		body: `{"statement":{"code":"B-0400","kind":"solution","made":{"edtf":"2026-02-02"},
			"recipe":{"strength":{"value":20,"unit":"g/dL","basis":"mass-per-solution-volume"},"amount":{"value":150,"unit":"mL"}},
			"inputs":[{"from":{"supply":{"id":"{resin}"}},"part":"solute","amount":{"quantity":{"value":30.1,"unit":"g"}}},
			          {"from":{"supply":{"id":"{solvent}"}},"part":"solvent","amount":{"quantity":{"value":97.9,"unit":"g"}}}],
			"finished":{"quantity":{"value":150,"unit":"mL"}}}}`},
	{title: "Record a dilution of it", method: http.MethodPost, path: "/v1/batches", name: "dilution", expects: 201,
		body: `{"statement":{"code":"B-0401","kind":"dilution","made":{"edtf":"2026-02-03"},
			"inputs":[{"from":{"batch":{"id":"{batch}"}},"part":"stock","amount":{"quantity":{"value":25,"unit":"mL"}}},
			          {"from":{"supply":{"id":"{solvent}"}},"part":"solvent","amount":{"quantity":{"value":75,"unit":"mL"}}}]}}`},
	{title: "Fill two bottles", method: http.MethodPost, path: "/v1/batches/{dilution}/bottles", name: "bottle", expects: 201,
		body: `{"filled":{"edtf":"2026-02-03"},"bottles":[{"code":"B-0401-1","amount":{"value":40,"unit":"mL"}},{"code":"B-0401-2","amount":{"value":40,"unit":"mL"}}]}`},
	{title: "What the bottle holds", method: http.MethodGet, path: "/v1/batches/{bottle}/contents", expects: 200, shows: []string{"answer", "now"}},
	{title: "Ask for a specimen that is not known here", method: http.MethodGet, path: "/v1/specimen-lookup?number=LV.2026/0001", expects: 200},
	{title: "Register it by its catalogue number", method: http.MethodPost, path: "/v1/specimens", name: "specimen", expects: 201,
		body: `{"statement":{"identifiers":[{"kind":"catalogue-number","value":"LV.2026/0001"}],"collection":"palaeontology","bodyKind":"bone","condition":"dry","areas":[{"path":"shaft"}]}}`},
	{title: "Find it again", method: http.MethodGet, path: "/v1/specimen-lookup?number=LV.2026/0001", expects: 200},
	{title: "Record the treatment", method: http.MethodPost, path: "/v1/treatments", name: "treatment", expects: 201,
		body: `{"statement":{"specimen":{"id":"{specimen}"},"action":"consolidation","areas":{"paths":["shaft"]},"method":"brush","coats":2,
			"dates":{"edtf":"2026-02-04"},"purpose":{"text":"Flaking"},"people":[{"person":{"name":"Ilse Varga"},"part":"carried-out"}],
			"materials":[{"used":{"batch":{"id":"{bottle}"}},"role":"consolidant"}]}}`},
	{title: "Record that some of it was taken off", method: http.MethodPost, path: "/v1/treatments", expects: 201,
		body: `{"statement":{"specimen":{"id":"{specimen}"},"action":"removal","areas":{"paths":["shaft"]},"method":"swab","dates":{"edtf":"2026-03"},
			"removal":{"treatments":[{"id":"{treatment}"}],"left":"reduced"},"solventExposure":[{"solvent":"acetone","time":{"quantity":{"value":0.5,"unit":"h"}},"during":"removal"}]}}`},
	{title: "What is on it now", method: http.MethodGet, path: "/v1/specimens/{specimen}/present-state", expects: 200, accept: "text/plain"},
	{title: "What was done to it", method: http.MethodGet, path: "/v1/specimens/{specimen}/treatments", expects: 200},
	{title: "What the bottle was made from", method: http.MethodGet, path: "/v1/batches/{bottle}/lineage", expects: 200},
	{title: "Which specimens the resin touched", method: http.MethodGet, path: "/v1/supplies/{resin}/where-used", expects: 200},
	{title: "The report of the year's reversible treatments", method: http.MethodGet, path: "/v1/reports/reversible-treatments?from=2026-01-01&until=2026-12-31",
		expects: 200, settled: "remainder.notComputed", shows: []string{"items", "removals", "totals", "remainder"}},
	{title: "The same as a table", method: http.MethodGet, path: "/v1/reports/reversible-treatments?from=2026-01-01&until=2026-12-31", accept: "text/csv", expects: 200},
}
