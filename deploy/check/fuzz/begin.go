package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"net/http"

	"github.com/google/uuid"

	"meniscus/internal/postgres"
	museum "meniscus/testdata/demo"
)

// begin founds the round's institutions and fills its own with the invented
// museum, so that every operation has something to work on.
func (c *conductor) begin(ctx context.Context, round int) error {
	c.pool = newPool()
	ids := institutions(c.seed, round)
	own, err := c.service.Found(ctx, postgres.Founding{Institution: ids[0], Name: "Museum of the Lower Valley",
		Person: "Catalogue of the Lower Valley"})
	if err != nil {
		return err
	}
	neighbour, err := c.service.Found(ctx, postgres.Founding{Institution: ids[1], Name: "Museum of the Upper Valley",
		Person: "Catalogue of the Upper Valley"})
	if err != nil {
		return err
	}
	c.pool.keys, c.pool.never = []string{own.Text()}, own.ID.String()
	c.pool.foreign = []string{neighbour.Text()}
	for _, step := range []func(context.Context) error{c.loadMuseum, c.narrowKeys, c.furnish, c.callNeighbour} {
		if err := step(ctx); err != nil {
			return err
		}
	}
	return c.foundEmpty(ctx, ids[2])
}

// must sends a request and fails unless the answer is a success.
func (c *conductor) must(ctx context.Context, r *request, key string) (*reply, error) {
	r.class = wellFormed
	r.header = append(r.header, [2]string{"Authorization", "Bearer " + key}, [2]string{"Content-Type", "application/json"})
	a, err := send(ctx, c.service.Address, r)
	if err != nil {
		return nil, fmt.Errorf("preparing a round: %s %s: %w", r.method, r.target, err)
	}
	if a.status >= http.StatusMultipleChoices {
		return nil, fmt.Errorf("preparing a round: %s %s is answered %v", r.method, r.target, a)
	}
	c.pool.learn(r, a)
	return a, nil
}

func (c *conductor) loadMuseum(ctx context.Context) error {
	for line := range bytes.Lines(museum.Museum) {
		var said struct {
			Path string
			Body json.RawMessage
		}
		if err := json.Unmarshal(line, &said); err != nil {
			return fmt.Errorf("reading the museum: %w", err)
		}
		a, err := c.must(ctx, &request{op: c.at(said.Path), method: http.MethodPost, target: said.Path,
			body: string(said.Body)}, c.pool.keys[0])
		if err != nil {
			return err
		}
		if c.pool.founder == "" {
			c.pool.founder, _ = parse(a.body).(object).at("recordedBy").(object).at("id").(string)
		}
	}
	return nil
}

func (c *conductor) at(path string) *operation {
	for _, op := range c.ops {
		if op.path == path && op.method == http.MethodPost {
			return op
		}
	}
	return nil
}

// narrowKeys makes a key that may only read, and one that is revoked.
func (c *conductor) narrowKeys(ctx context.Context) error {
	op := c.byID["createAccessKey"]
	for i := range 2 {
		body := object{{"name", "fuzz"}, {"person", object{{"id", c.pool.ids["person"][0]}}}, {"scopes", list{"read"}}}
		r := &request{op: op, method: op.method, target: op.path, body: text(body),
			header: [][2]string{{"Idempotency-Key", fmt.Sprint("narrow-", i)}}}
		if _, err := c.must(ctx, r, c.pool.keys[0]); err != nil {
			return err
		}
	}
	_, err := c.must(ctx, &request{method: http.MethodDelete, target: "/v1/access-keys/" + c.pool.latest("key")},
		c.pool.keys[0])
	return err
}

// furnish makes one record of each kind that the museum lacks.
func (c *conductor) furnish(ctx context.Context) error {
	for i, id := range []string{"createWebhook", "createImport", "createReportSchedule", "createPlan"} {
		g, op := c.gen(0), c.byID[id]
		r := &request{op: op, method: op.method, target: op.path,
			body: text(g.fresh(op, g.settled(op.examples[0], "").(object)))}
		r.header = [][2]string{{"Idempotency-Key", fmt.Sprint("furnish-", i)}}
		if _, err := c.must(ctx, r, c.pool.keys[0]); err != nil {
			return err
		}
	}
	return nil
}

// callNeighbour makes the neighbour record a treatment of a specimen and pack it.
func (c *conductor) callNeighbour(ctx context.Context) error {
	g := c.gen(0)
	specimen := g.uuid()
	for _, said := range []struct {
		op   string
		id   string
		body object
	}{{"createSpecimen", specimen, g.specimen()},
		{"createTreatment", g.uuid(), g.treatment(specimen, object{{"material", object{{"id", "acetone"}}}})}} {
		op := c.byID[said.op]
		r := &request{op: op, method: op.method, target: op.path,
			body: text(object{{"id", said.id}, {"statement", said.body}})}
		if _, err := c.must(ctx, r, c.pool.foreign[0]); err != nil {
			return err
		}
	}
	pack := c.byID["packSpecimen"]
	a, err := c.must(ctx, &request{op: pack, method: pack.method, target: "/v1/specimens/" + specimen + "/package"},
		c.pool.foreign[0])
	if err == nil {
		c.pool.exports["packSpecimen"] = append(c.pool.exports["packSpecimen"], string(a.body))
	}
	return err
}

// foundEmpty founds an institution into which the round's export is restored.
func (c *conductor) foundEmpty(ctx context.Context, id uuid.UUID) error {
	as, err := uuid.Parse(c.pool.founder)
	if err != nil {
		return fmt.Errorf("who recorded first: %w", err)
	}
	empty, err := c.service.Found(ctx, postgres.Founding{Institution: id, Name: "Museum of the Middle Valley", As: as})
	c.pool.foreign = append(c.pool.foreign, empty.Text())
	return err
}
