package main

import (
	"slices"
	"strings"
)

// A script is a sequence of requests that builds a graph or visits one. Each request is
// made when its turn comes, from what the pool has by then.
type script []func(*gen) *request

// scripts builds the graphs: batches of batches, specimens merged and split,
// records amended over and over, treatments that use and follow each other.
func (c *conductor) script(g *gen) script {
	made := []func(*gen) script{c.diamond, c.chain, c.wide, c.circle, c.amendments, c.merges, c.parts, c.bottles,
		c.layers, c.plans}
	return made[g.below(len(made))](g)
}

func (c *conductor) op(id string) *operation { return c.byID[id] }

// state makes a record with a given id.
func (c *conductor) state(g *gen, op, id string, said object) *request {
	r := g.request(c.op(op), wellFormed, nil)
	r.method, r.op, r.target = c.op(op).method, c.op(op), c.op(op).path
	r.header = g.plainHeaders("Idempotency-Key", g.uuid())
	r.body = text(object{{"id", id}, {"statement", said}})
	return r
}

// change acts on a record with its last ETag.
func (c *conductor) change(g *gen, op, variable, id string, body object) *request {
	r := g.request(c.op(op), wellFormed, map[string]string{variable: id})
	r.method, r.op = c.op(op).method, c.op(op)
	r.target = strings.Replace(r.op.path, "{"+variable+"}", id, 1)
	r.header = g.plainHeaders("Idempotency-Key", g.uuid(), "If-Match", cmpOr(g.pool.tagOf(id), "*"))
	r.body = text(body)
	return r
}

func (g *gen) plainHeaders(pairs ...string) [][2]string {
	h := [][2]string{{"Authorization", "Bearer " + g.pool.keys[0]}, {"Content-Type", "application/json"}}
	for i := 0; i < len(pairs); i += 2 {
		h = append(h, [2]string{pairs[i], pairs[i+1]})
	}
	return h
}

// readers are the operations that walk a graph from a record, by the variable that
// names it.
var readers = map[string][]string{
	"batchId": {
		"readBatchContents", "traceLineage", "traceWhereUsedOfBatch", "readBatch", "labelBatch", "listAmountChanges",
	},
	"recordId": {"readCompleteness", "listRevisions", "readRecord"},
	"specimenId": {"readPresentState", "planRemoval", "assessSuitability", "readTravelTemperature", "drawTimeline",
		"listTreatmentsOfSpecimen", "readSpecimenProvenance",
		"summarizeSpecimen", "readSpecimenSheet", "packSpecimen", "labelSpecimen", "readSpecimen"},
	"treatmentId": {"readTreatment", "listFindingsOfTreatment", "readTreatmentProvenance"},
	"": {"reportReversibleTreatments", "reportIncompleteRecords", "reportSuitability", "listChanges",
		"exportRecords", "exportDarwinCore"},
}

// visits reads a record by all its readers, and sometimes the reports.
func (c *conductor) visits(variable, id string) script {
	var s script
	visit := func(op, id string) {
		s = append(s, func(g *gen) *request {
			r := g.request(c.op(op), wellFormed, map[string]string{variable: id})
			r.method, r.op, r.header = c.op(op).method, c.op(op), [][2]string{{"Authorization", "Bearer " + g.pool.keys[0]}}
			if required(r.op) == 0 {
				r.target, _, _ = strings.Cut(r.target, "?")
			}
			return r
		})
	}
	for _, op := range readers[variable] {
		visit(op, id)
	}
	return s
}

func required(op *operation) (n int) {
	for _, p := range op.params {
		if p.In == "query" && p.Required {
			n++
		}
	}
	return n
}

func input(kind, id, part string) object {
	return object{{"from", object{{kind, object{{"id", id}}}}}, {"part", part},
		{"amount", object{{"quantity", object{{"value", number("10")}, {"unit", "mL"}}}}}}
}

func (g *gen) batchOf(inputs list) object {
	return object{{"code", g.code("G")}, {"kind", "blend"}, {"made", object{{"edtf", "2024-03-11"}}}, {"inputs", inputs}}
}

// levels makes n levels of batches, each made from those of the level below, then uses
// the last one on a specimen and calls the readers.
func (c *conductor) levels(g *gen, n, wide int, below func(level []string) list) script {
	var s script
	level := []string{}
	for i := range n {
		var next []string
		inputs := below(level)
		if i == 0 {
			inputs = list{input("supply", g.pool.ids["supply"][0], "solvent")}
		}
		for range wide {
			id := g.uuid()
			next = append(next, id)
			s = append(s, func(g *gen) *request { return c.state(g, "createBatch", id, g.batchOf(inputs)) })
		}
		level = next
	}
	return append(append(s, c.used(g, level[0])...), c.visitsOfBatch(level[0])...)
}

func (c *conductor) visitsOfBatch(id string) script {
	return append(append(c.visits("batchId", id), c.visits("recordId", id)...), c.visits("", "")...)
}

func ofAll(level []string) list {
	l := list{}
	for _, id := range level {
		l = append(l, input("batch", id, "stock"))
	}
	return l
}

func (c *conductor) diamond(g *gen) script { return c.levels(g, g.size(8, 20, 60), 2, ofAll) }
func (c *conductor) chain(g *gen) script   { return c.levels(g, g.size(20, 60, 300), 1, ofAll) }

// size is a number from low to high, and seldom up to a large one.
func (g *gen) size(low, high, large int) int {
	if g.oneIn(6) {
		return g.between(high, large)
	}
	return g.between(low, high)
}

// wide levels repeat each batch below until an input list is full.
func (c *conductor) wide(g *gen) script {
	return c.levels(g, 4, 3, func(level []string) list {
		l := list{}
		for i := range 100 {
			if len(level) > 0 {
				l = append(l, input("batch", level[i%len(level)], "stock"))
			}
		}
		return l
	})
}

// circle makes batches, and amends the first ones to be made from the last.
func (c *conductor) circle(g *gen) script {
	s := c.levels(g, 3, 3, ofAll)
	first, last := "", ""
	for i, step := range s[:9] {
		s[i] = func(g *gen) *request {
			r := step(g)
			if id, _ := parse([]byte(r.body)).(object).at("id").(string); i < 3 {
				first = id
			} else {
				last = id
			}
			return r
		}
	}
	closing := func(g *gen) *request {
		said := g.batchOf(list{input("batch", last, "stock"), input("batch", first, "stock")})
		return c.change(g, "amendRecord", "recordId", first, object{{"reason", "It was made of the later one."},
			{"statement", said}})
	}
	return append(append(s[:9:9], closing), s[9:]...)
}

// used puts a batch on a specimen and reads the specimen in every way.
func (c *conductor) used(g *gen, batch string) script {
	specimen, id := g.idOr("specimen"), g.uuid()
	step := func(g *gen) *request {
		return c.state(g, "createTreatment", id, g.treatment(specimen, object{{"batch", object{{"id", batch}}}}))
	}
	return append(append(script{step}, c.visits("specimenId", specimen)...), c.visits("treatmentId", id)...)
}

func (g *gen) treatment(specimen string, used object) object {
	return object{{"specimen", object{{"id", specimen}}},
		{"action", g.pick([]string{"consolidation", "coating", "joining", "barrier"})},
		{"areas", object{{"paths", list{g.pick(areas)}}}},
		{"dates", object{{"edtf", g.date()}}},
		{"materials", list{
			object{{"used", used}, {"role", g.pick([]string{"consolidant", "coating", "adhesive", "barrier"})}},
		}}}
}

// amendments amends one record again and again.
func (c *conductor) amendments(g *gen) script {
	id := cmpOr(g.pool.anyRecord(g.rng), g.uuid())
	var s script
	for range g.size(5, 25, 100) {
		s = append(s, func(g *gen) *request {
			r := c.change(g, "amendRecord", "recordId", id, object{})
			mediaType := g.pick(r.op.takes)
			r.header = append(slices.DeleteFunc(r.header, func(h [2]string) bool { return h[0] == "Content-Type" }),
				[2]string{"Content-Type", mediaType})
			r.body = g.amendment(r.target, mediaType, wellFormed)
			return r
		})
	}
	return append(s, c.visits("recordId", id)...)
}

// merges merges specimens into each other, in chains and in circles, and undoes some.
func (c *conductor) merges(g *gen) script {
	ids := make([]string, g.size(3, 15, 60))
	var s script
	for i := range ids {
		ids[i] = g.uuid()
		s = append(s, func(g *gen) *request { return c.state(g, "createSpecimen", ids[i], g.specimen()) },
			func(g *gen) *request {
				return c.state(g, "createTreatment", g.uuid(),
					g.treatment(ids[i], object{{"material", object{{"id", g.material()}}}}))
			})
	}
	for i := range ids {
		into := ids[(i+1)%len(ids)]
		if g.oneIn(4) {
			into = ids[g.below(len(ids))]
		}
		s = append(s, func(g *gen) *request {
			return c.change(g, "mergeSpecimen", "specimenId", ids[i], object{{"into", object{{"id", into}}},
				{"reason", "Catalogued twice."}})
		})
	}
	s = append(s, c.visits("specimenId", ids[len(ids)-1])...)
	undone := ids[g.below(len(ids))]
	s = append(s, func(g *gen) *request {
		return c.change(g, "undoMerge", "specimenId", undone, object{{"reason", "They do not belong together."}})
	})
	return append(append(s, c.visits("specimenId", undone)...), c.visits("", "")...)
}

func (g *gen) specimen() object {
	return object{{"identifiers",
		list{object{{"kind", "catalogue-number"}, {"value", "FZ." + g.digits(4) + "/" + g.digits(6)}}}}, {"bodyKind", "bone"}}
}

// parts splits parts from parts of a treated specimen.
func (c *conductor) parts(g *gen) script {
	whole := g.uuid()
	s := script{func(g *gen) *request { return c.state(g, "createSpecimen", whole, g.specimen()) },
		func(g *gen) *request {
			return c.state(g, "createTreatment", g.uuid(),
				g.treatment(whole, object{{"material", object{{"id", g.material()}}}}))
		}}
	from := whole
	for range g.size(3, 15, 60) {
		parent, part := from, g.uuid()
		s = append(s, func(g *gen) *request {
			return c.change(g, "splitSpecimen", "specimenId", parent,
				object{{"id", part}, {"areas", list{g.pick(areas)}}, {"date", object{{"edtf", "2024-06-03"}}},
					{"reason", "Lifted as a block."}, {"statement", g.specimen()}})
		})
		if !g.oneIn(3) {
			from = part
		}
	}
	return append(append(s, c.visits("specimenId", from)...), c.visits("specimenId", whole)...)
}

// bottles fills bottles from bottles, and tops them up from each other.
func (c *conductor) bottles(g *gen) script {
	from := g.idOr("batch")
	var s script
	for range g.between(2, 8) {
		s = append(s, func(g *gen) *request {
			bottles := list{}
			for range g.between(1, 30) {
				bottles = append(bottles,
					object{{"code", g.code("BO")}, {"amount", object{{"value", number("1")}, {"unit", "mL"}}}})
			}
			return c.change(g, "fillBottles", "batchId", from, object{{"bottles", bottles}})
		}, func(g *gen) *request {
			return c.state(g, "createAmountChange", g.uuid(), object{{"batch", g.ref("batch")}, {"kind", "topped-up"},
				{"amount", object{{"quantity", object{{"value", number("1")}, {"unit", "mL"}}}}},
				{"with", object{{"batch", g.ref("batch")}}}})
		})
	}
	return append(append(s, c.used(g, from)...), c.visitsOfBatch(from)...)
}

// layers puts treatments over and under each other on one specimen, in circles
// too, and takes some off again.
func (c *conductor) layers(g *gen) script {
	specimen, s := g.idOr("specimen"), script{}
	ids := make([]string, g.size(5, 40, 200))
	for i := range ids {
		ids[i] = g.uuid()
		said := g.treatment(specimen, object{{"material", object{{"id", g.material()}}}})
		relations := list{}
		for range min(i, g.below(4)) {
			relations = append(relations,
				object{{"relation", g.pick([]string{"over", "under", "inside", "bridges", "barrier-for"})},
					{"treatment", object{{"id", ids[g.below(i)]}}}})
		}
		if i > 0 && g.oneIn(6) {
			said = object{{"specimen", object{{"id", specimen}}}, {"action", "removal"},
				{"areas", object{{"paths", list{"whole"}}}}, {"dates", object{{"edtf", g.date()}}},
				{"removal", object{{"treatments", list{object{{"id", ids[g.below(i)]}}}}, {"left", "reduced"}}}}
		} else if len(relations) > 0 {
			said = append(said, member{"relations", relations})
		}
		s = append(s, func(g *gen) *request { return c.state(g, "createTreatment", ids[i], said) })
	}
	retracted := ids[g.below(len(ids))]
	s = append(s, func(g *gen) *request {
		return c.change(g, "retractRecord", "recordId", retracted, object{{"reason", "Recorded against the wrong specimen."}})
	}, func(g *gen) *request {
		return c.change(g, "redactRecord", "recordId", retracted, object{{"reason", "A person asked for it."}})
	})
	return append(append(s, c.visits("specimenId", specimen)...), c.visits("treatmentId", retracted)...)
}

// plans plans, authorises, treats by the plan and amends it.
func (c *conductor) plans(g *gen) script {
	specimen, plan, done := g.idOr("specimen"), g.uuid(), g.uuid()
	said := g.treatment(specimen, object{{"material", object{{"id", g.material()}}}})
	return append(script{
		func(g *gen) *request { return c.state(g, "createPlan", plan, object{{"treatment", said}}) },
		func(g *gen) *request {
			return c.change(g, "authorisePlan", "planId", plan, object{{"date", object{{"edtf", "2024-03-20"}}},
				{"class", "single"}})
		},
		func(g *gen) *request {
			return c.state(g, "createTreatment", done, append(said[:len(said):len(said)], member{"plan", object{{"id", plan}}}))
		},
		func(g *gen) *request {
			return c.change(g, "amendRecord", "recordId", plan,
				object{{"reason", "Another area."}, {"statement", object{{"treatment", said}, {"remarks", "Changed"}}}})
		},
	}, append(c.visits("treatmentId", done), c.visits("recordId", plan)...)...)
}

// life is two or three requests: one makes a record of some kind, the others are any
// operations that name such a record.
func (c *conductor) life(g *gen) script {
	create := c.op(g.pick(creates))
	kind := kindOf[collection(create.path)]
	s := script{func(g *gen) *request { return g.request(create, wellFormed, nil) }}
	for range g.between(1, 3) {
		op := pickOf(g, c.naming(kind))
		s = append(s, func(g *gen) *request {
			id := cmpOr(g.pool.latest(kind), g.uuid())
			return g.request(op, g.class(), map[string]string{kind + "Id": id, "recordId": id})
		})
	}
	return s
}

var creates = []string{"createBatch", "createTreatment", "createSpecimen", "createPerson", "createSupply",
	"createAmountChange", "createPlan", "createWebhook", "createImport", "createReportSchedule"}

// naming are the operations whose path names a record of this kind.
func (c *conductor) naming(kind string) []*operation {
	var ops []*operation
	for _, op := range c.ops {
		if strings.Contains(op.path, "{"+kind+"Id}") || strings.Contains(op.path, "{recordId}") &&
			slices.Contains(recordKinds, kind) {
			ops = append(ops, op)
		}
	}
	return ops
}
