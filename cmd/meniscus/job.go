package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"strings"

	"github.com/google/uuid"
)

// welcome has the address, the key, and the address again.
const welcome = `
Meniscus is at %s with an invented museum. The reference is at /docs.

  export KEY=%s
  export AT=%s

What is known of a number, and of one that is nearly right:
  curl -s -H "Authorization: Bearer $KEY" "$AT/v1/specimen-lookup?number=LV.1987/42"
What was done to the cave bear's skull:
  curl -s -H "Authorization: Bearer $KEY" "$AT/v1/specimens/01900000-0000-7000-8000-000000000022/treatments"
Which specimens a supply of resin touched:
  curl -s -H "Authorization: Bearer $KEY" "$AT/v1/supplies/01900000-0000-7000-8000-000000000005/where-used"
What a bottle was made from:
  curl -s -H "Authorization: Bearer $KEY" "$AT/v1/batches/01900000-0000-7000-8000-000000000019/lineage"

Ctrl-C ends it; the data stays for the next time (--fresh starts over).
`

// jobStep is one request of the main job.
type jobStep struct {
	title   string
	method  string
	path    string // {name} stands for the id that the step of that name made
	body    string // the same in it
	name    string // under which the answer's id is kept
	whole   bool   // print the answer whole
	expects int    // the status
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
		status, answer, err := c.send(ctx, step.method, fill(step.path, ids), body, map[string]string{"Idempotency-Key": uuid.NewString()})
		if err != nil && status != step.expects {
			return err
		}
		if status != step.expects {
			return fmt.Errorf("step %d was answered %d instead of %d: %s", i+1, status, step.expects, answer)
		}
		fmt.Fprintf(out, "   %d %s\n", status, brief(answer, step.whole))
		if step.name != "" {
			ids[step.name] = idIn(answer)
		}
	}
	return nil
}

// fill puts the ids of earlier steps in the place of their names.
func fill(text string, ids map[string]string) string {
	for name, id := range ids {
		text = strings.ReplaceAll(text, "{"+name+"}", id)
	}
	return text
}

// idIn is the id of the record in an answer, or of the first of several.
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

// briefly is how much of an answer is printed.
const briefly = 300

func brief(answer []byte, whole bool) string {
	if whole {
		var pretty bytes.Buffer
		if json.Indent(&pretty, answer, "   ", "  ") == nil {
			return pretty.String()
		}
		return "\n   " + strings.ReplaceAll(strings.TrimSpace(string(answer)), "\n", "\n   ")
	}
	text := string(answer)
	if len(text) > briefly {
		return text[:briefly] + " …"
	}
	return text
}

// jobSteps is the main job, in the order in which it is done.
var jobSteps = []jobStep{
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
			"removal":{"treatments":["{treatment}"],"left":"reduced"},"solventExposure":[{"solvent":"acetone","time":{"quantity":{"value":0.5,"unit":"h"}},"during":"removal"}]}}`},
	{title: "What was done to it", method: http.MethodGet, path: "/v1/specimens/{specimen}/treatments", expects: 200},
	{title: "What the bottle was made from", method: http.MethodGet, path: "/v1/batches/{bottle}/lineage", expects: 200},
	{title: "Which specimens the resin touched", method: http.MethodGet, path: "/v1/supplies/{resin}/where-used", expects: 200},
}
