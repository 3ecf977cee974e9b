package httpapi_test

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"net/http"
	"slices"
	"testing"
	"time"

	diff "github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"meniscus/internal/edtf"
	"meniscus/internal/stock"
)

// bench is a museum's stock as plain values, kept beside the service while a
// history is made: what was poured out of what, and who used what.
type bench struct {
	*service
	t                       *rapid.T
	day                     int
	resin, solvent          string // supplies
	specimens               []string
	batches, changes, users []*entry
	closed                  map[string]bool // jars that something left and nobody knows how much: nothing is poured from them
}

// entry is one thing on record, as plain values. What is said of it later
// changes the values, and the service is told in the same order.
type entry struct {
	kind        string
	day         int    // orders what happened
	date        string // as it is recorded
	jar, from   string // ids of batches; the jar is the batch itself where one was made
	grams       float64
	taken, more float64 // millilitres of the jar that was poured from, and of solvent
	loose       bool    // the material is named, and no supply
	used        object  // what else was used, and how it is traced
	use         stock.Use
	specimen    string
	retracted   bool
	first       object              // the statement that it is recorded with; nil once it is
	made        reply               // what the service last answered of it
	then        []func(reply) reply // what is said of it later, in turn
}

// GoString names an entry in the draws of a history that failed.
func (e *entry) GoString() string { return e.kind + " on " + e.date }

const benchResin, benchSolvent = "ethyl-methacrylate-methyl-acrylate-copolymer", "acetone"

// lastDay is after everything that has a day.
const lastDay = 1 << 20

func dateOf(day int) string {
	return time.Date(2020, 1, day, 0, 0, 0, 0, time.UTC).Format(time.DateOnly)
}

// today is another day each time, so that the order of what happened is known.
func (b *bench) today() int {
	b.day++
	return b.day
}

func (b *bench) amount(label string, most float64) float64 {
	return float64(rapid.IntRange(1, max(1, int(most))).Draw(b.t, label))
}

func (b *bench) one(label string, among ...string) string {
	return rapid.SampledFrom(among).Draw(b.t, label)
}

func ml(x float64) object       { return object{"quantity": object{"value": x, "unit": "mL"}} }
func of(id string) object       { return object{"id": id} }
func on(day string) edtf.Period { return edtf.MustParse(day).Period() }

func into(from object, part string, amount object) object {
	return object{"from": from, "part": part, "amount": amount}
}

// supplied is a supply, or what it holds where nobody says which.
func (e *entry) supplied(supply, material string) object {
	if e.loose {
		return object{"material": of(material)}
	}
	return object{"supply": of(supply)}
}

// statement is an entry as the service is told it.
func (b *bench) statement(e *entry) object {
	unknown, date := object{"answer": "unknown"}, object{"edtf": e.date}
	batch := object{"code": fmt.Sprint("B-", e.day), "kind": "solution", "made": date}
	change := object{"batch": of(e.jar), "kind": e.kind, "amount": ml(e.taken), "date": date}
	switch e.kind {
	case "made":
		batch["finished"] = ml(e.more)
		batch["inputs"] = array{into(e.supplied(b.resin, benchResin), "solute", object{"quantity": object{"value": e.grams, "unit": "g"}}), into(object{"supply": of(b.solvent)}, "solvent", unknown)}
		return batch
	case "poured":
		batch["kind"], batch["finished"] = "dilution", ml(e.taken+e.more)
		batch["inputs"] = array{into(object{"batch": of(e.from)}, "stock", ml(e.taken)), into(e.supplied(b.solvent, benchSolvent), "solvent", ml(e.more))}
		return batch
	case "mixed":
		batch["kind"], batch["inputs"] = "mixture", array{into(e.used, "other", unknown)}
		return batch
	case "topped-up":
		change["with"] = e.supplied(b.solvent, benchSolvent)
	case "poured-over":
		change["kind"], change["with"] = "topped-up", object{"batch": of(e.from)}
	case "treated":
		st := treatment(e.specimen, "coating", e.date)
		m := object{"used": e.used}
		if e.taken > 0 {
			m["amount"] = ml(e.taken)
		}
		st["materials"] = array{m}
		return st
	}
	return change
}

// uses are how an entry is traced.
func (b *bench) uses(e *entry) []stock.Use {
	supply, material := stock.Use{Stock: b.solvent}, stock.Use{Materials: []string{benchSolvent}}
	if e.kind == "made" {
		supply, material = stock.Use{Stock: b.resin}, stock.Use{Materials: []string{benchResin}}
	}
	if e.loose {
		supply = material
	}
	switch e.kind {
	case "made":
		return []stock.Use{supply, {Stock: b.solvent}}
	case "poured":
		return []stock.Use{{Stock: e.from}, supply}
	case "topped-up":
		supply.Later, supply.When = true, on(e.date)
		return []stock.Use{supply}
	case "poured-over":
		return []stock.Use{{Stock: e.from, Later: true, When: on(e.date)}}
	case "mixed", "treated":
		return []stock.Use{e.use}
	}
	return nil
}

// jars are how much is in each jar and how many grams of resin.
type jars struct{ volume, solids map[string]float64 }

// take pours some of a jar out and tells how many grams went with it; false if
// the jar is not known to hold that much.
func (j jars) take(jar string, amount float64) (float64, bool) {
	held := j.volume[jar]
	if held < amount+1 {
		return 0, false
	}
	grams := j.solids[jar] / held * amount
	j.volume[jar], j.solids[jar] = held-amount, j.solids[jar]-grams
	return grams, true
}

// happen lets one entry change the jars; false if it cannot have happened.
func (j jars) happen(e *entry) (possible bool) {
	grams, possible := 0.0, true
	if e.from != "" {
		grams, possible = j.take(e.from, e.taken)
	}
	_, known := j.volume[e.jar]
	switch e.kind {
	case "made":
		j.volume[e.jar], j.solids[e.jar] = e.more, e.grams
		return true
	case "poured":
		j.volume[e.jar], j.solids[e.jar] = e.taken+e.more, grams
		return possible
	case "poured-over":
		j.volume[e.jar], j.solids[e.jar] = j.volume[e.jar]+e.taken, j.solids[e.jar]+grams
	case "topped-up":
		j.volume[e.jar] += e.taken
	case "evaporated":
		j.volume[e.jar] -= e.taken
		return known && j.volume[e.jar] >= 1
	case "discarded", "treated":
		if e.jar == "" || e.taken == 0 {
			return true
		}
		_, possible = j.take(e.jar, e.taken)
	}
	return possible && known
}

// liquid tells whether what a jar holds can be a solution: more than 0.9 g of
// resin in a millilitre is next to resin alone.
func (j jars) liquid(jar string) bool { return j.solids[jar] <= 0.9*j.volume[jar] }

// replay lets everything that stands happen in the order of its days.
func (b *bench) replay() (jars, bool) {
	j := jars{map[string]float64{}, map[string]float64{}}
	all := slices.Concat(b.batches, b.changes, b.users)
	slices.SortStableFunc(all, func(x, y *entry) int { return cmp.Compare(x.day, y.day) })
	for _, e := range all {
		if !e.retracted && e.kind != "mixed" && !(j.happen(e) && j.liquid(e.jar)) {
			return j, false
		}
	}
	return j, true
}

// full are the jars with enough in them to take some.
func (b *bench) full() []string {
	held, _ := b.replay()
	ids := slices.DeleteFunc(slices.Collect(maps.Keys(held.volume)), func(id string) bool { return held.volume[id] < 6 || b.closed[id] })
	slices.Sort(ids)
	return ids
}

func (b *bench) all() []string {
	var ids []string
	for _, e := range b.batches {
		ids = append(ids, e.jar)
	}
	slices.Sort(ids)
	return ids
}

// record keeps an entry; batches are recorded at once, because others name them,
// everything else long after it happened.
func (b *bench) record(e *entry) {
	if e.date == "" {
		e.date = dateOf(e.day)
	}
	e.first = b.statement(e)
	switch e.kind {
	case "made", "poured", "mixed":
		e.made, e.first = b.create("/v1/batches", e.first), nil
		e.jar = e.made.id()
		b.batches = append(b.batches, e)
	case "treated":
		b.users = append(b.users, e)
	default:
		b.changes = append(b.changes, e)
	}
}

// tell records an entry if it is not yet, and what was said of it since.
func (b *bench) tell(e *entry) {
	if e.first != nil {
		path := "/v1/amount-changes"
		if e.kind == "treated" {
			path = "/v1/treatments"
		}
		e.made = b.create(path, e.first)
	}
	for _, said := range e.then {
		e.made = said(e.made)
	}
}

// amended changes an entry, unless what then follows cannot have happened. It
// takes a retraction back.
func (b *bench) amended(e *entry, change func()) {
	before := *e
	change()
	e.retracted = false
	if _, possible := b.replay(); !possible {
		*e = before
		return
	}
	st := b.statement(e)
	e.then = append(before.then, func(r reply) reply {
		if now := b.restate(r, st); now.status != http.StatusOK { // other words
			return now.want(http.StatusCreated)
		}
		return r
	})
}

// retract takes an entry out of the record, and perhaps back.
func (b *bench) retract(e *entry) {
	e.retracted = true
	if _, possible := b.replay(); !possible {
		e.retracted = false
		return
	}
	e.then = append(e.then, func(r reply) reply {
		return b.do(http.MethodPost, "/v1/records/"+r.id()+"/retraction", object{"reason": "Another jar."}, header{"If-Match", r.header.Get("ETag")}).want(201)
	})
	if rapid.Bool().Draw(b.t, "taken back") {
		b.amended(e, func() {})
	}
}

// correct finds one of the entries wrong.
func (b *bench) correct() {
	switch rapid.IntRange(0, 2).Draw(b.t, "which") {
	case 0:
		b.correctBatch(rapid.SampledFrom(b.batches).Draw(b.t, "batch"))
	case 1:
		if len(b.changes) > 0 {
			b.correctChange(rapid.SampledFrom(b.changes).Draw(b.t, "change"))
		}
	case 2:
		if len(b.users) > 0 {
			b.correctTreatment(rapid.SampledFrom(b.users).Draw(b.t, "treatment"))
		}
	}
}

func (b *bench) correctBatch(e *entry) {
	if e.kind == "mixed" {
		return
	}
	switch b.one("amended", "amounts", "finished", "jar", "supply") {
	case "amounts":
		grams, taken := b.amount("grams", 40), b.amount("taken", 60)
		b.amended(e, func() { e.grams, e.taken = grams, taken })
	case "finished":
		more := b.amount("finished", 200)
		b.amended(e, func() { e.more = more })
	case "jar":
		from := rapid.SampledFrom(b.batches).Draw(b.t, "really from")
		if e.kind == "poured" && from.day < e.day && !b.closed[from.jar] && from.kind != "mixed" {
			b.amended(e, func() { e.from = from.jar })
		}
	case "supply":
		b.amended(e, func() { e.loose = !e.loose })
	}
}

func (b *bench) correctChange(e *entry) {
	switch b.one("amended", "amount", "date", "supply", "retracted", "retracted") {
	case "amount":
		taken := b.amount("taken", 60)
		b.amended(e, func() { e.taken = taken })
	case "date":
		day := b.today()
		b.amended(e, func() { e.day, e.date = day, dateOf(day) })
	case "supply":
		b.amended(e, func() { e.loose = !e.loose })
	case "retracted":
		if e.retracted {
			b.amended(e, func() {})
		} else {
			b.retract(e)
		}
	}
}

func (b *bench) correctTreatment(e *entry) {
	switch b.one("amended", "amount", "material", "retracted", "retracted") {
	case "amount":
		if taken := b.amount("taken", 60); e.taken > 0 {
			b.amended(e, func() { e.taken = taken })
		}
	case "material":
		b.amended(e, func() {
			e.used, e.use, e.jar, e.taken = object{"material": of(benchResin)}, stock.Use{Materials: []string{benchResin}}, "", 0
		})
	case "retracted":
		if !e.retracted {
			b.retract(e)
		}
	}
}

// step does one thing at the bench.
func (b *bench) step() {
	full := b.full()
	if len(full) == 0 {
		b.loose()
		return
	}
	jar := b.one("jar", full...)
	held, _ := b.replay()
	third := held.volume[jar] / 3
	switch b.one("step", "pour", "pour", "evaporated", "topped-up", "poured-over", "discarded", "used", "used", "unmeasured", "loose", "named", "correct", "correct", "correct", "correct") {
	case "pour":
		b.record(&entry{kind: "poured", day: b.today(), from: jar, taken: b.amount("stock", third), more: b.amount("solvent", 100)})
	case "evaporated":
		taken := b.amount("evaporated", third)
		if held.volume[jar] -= taken; held.liquid(jar) {
			b.record(&entry{kind: "evaporated", day: b.today(), jar: jar, taken: taken})
		}
	case "discarded":
		b.record(&entry{kind: "discarded", day: b.today(), jar: jar, taken: b.amount("discarded", third)})
	case "topped-up":
		b.record(&entry{kind: "topped-up", day: b.today(), jar: jar, taken: b.amount("topped up", 100)})
	case "poured-over":
		if other := b.one("other jar", full...); other != jar {
			b.record(&entry{kind: "poured-over", day: b.today(), jar: other, from: jar, taken: b.amount("poured over", third)})
		}
	case "used":
		b.treat(&entry{day: b.today(), jar: jar, used: object{"batch": of(jar)}, use: stock.Use{Stock: jar}, taken: b.amount("used", third)})
	case "unmeasured":
		b.unmeasured()
	case "loose":
		b.loose()
	case "named":
		b.named()
	case "correct":
		b.correct()
	}
}

func (b *bench) treat(e *entry) {
	e.kind, e.specimen = "treated", b.one("specimen", b.specimens...)
	b.record(e)
}

// unmeasured records a treatment that used nobody knows how much of a batch.
func (b *bench) unmeasured() {
	held, _ := b.replay()
	from, dates := b.one("any", b.all()...), []string{"1990", "2020", "2020-01-04", "202X"}
	if _, known := held.volume[from]; known {
		dates = []string{"2021", "202X"} // not before what was poured from it
	}
	b.closed[from] = true
	b.treat(&entry{day: lastDay, date: b.one("when", dates...), used: object{"batch": of(from)}, use: stock.Use{Stock: from}})
}

// loose makes a batch of a material, or of words, that nobody has a supply of;
// or one of nobody knows how much of another.
func (b *bench) loose() {
	e := &entry{kind: "mixed", day: b.today(), used: object{"material": of(benchResin)}, use: stock.Use{Materials: []string{benchResin}}}
	switch rapid.IntRange(0, 2).Draw(b.t, "loose") {
	case 1:
		e.used, e.use = b.words()
	case 2:
		from := b.one("from", b.all()...)
		e.used, e.use = object{"batch": of(from)}, stock.Use{Stock: from}
		b.closed[from] = true
	}
	b.record(e)
}

// named records a treatment with a material or words.
func (b *bench) named() {
	e := &entry{day: lastDay, date: b.one("when", "1990", "2020-02", "2021", "202X"), used: object{"material": of(benchResin)}, use: stock.Use{Materials: []string{benchResin}}}
	if rapid.Bool().Draw(b.t, "in words") {
		e.used, e.use = b.words()
	}
	b.treat(e)
}

func (b *bench) words() (object, stock.Use) {
	use := stock.Use{Words: "old jar", Candidates: rapid.SampledFrom([][]string{nil, {benchResin, "shellac"}, {"shellac"}}).Draw(b.t, "candidates")}
	said := object{"verbatim": "old jar", "certainty": "unknown"}
	if use.Candidates != nil {
		said["candidates"] = use.Candidates
	}
	return object{"words": said}, use
}

// Histories of jars, recorded late and out of order, found wrong and set right,
// are answered as the plain values kept beside them say: what is left and how
// strong, what was made from what, and the three lists of where a supply and a
// batch were used, on which specimens.
func TestStockAgreesWithPlainValues(t *testing.T) {
	t.Parallel()
	shared := newService(t)
	rapid.Check(t, func(rt *rapid.T) {
		s := shared.in(t)
		s.inst, s.key = addInstitution(t, s.db, s.store, "Museum of the Lower Valley")
		b := &bench{service: s, t: rt, closed: map[string]bool{}}
		b.specimens = []string{s.create("/v1/specimens", specimen("LV.1")).id(), s.create("/v1/specimens", specimen("LV.2")).id()}
		b.resin = s.create("/v1/supplies", object{"code": "S-1", "material": of(benchResin), "received": object{"edtf": "2020"}}).id()
		b.solvent = s.create("/v1/supplies", object{"code": "S-2", "material": of(benchSolvent), "received": object{"edtf": "2020"}}).id()
		b.record(&entry{kind: "made", day: b.today(), grams: 30, more: 150})
		for range rapid.IntRange(2, 14).Draw(rt, "steps") {
			b.step()
		}
		for _, e := range rapid.Permutation(slices.Concat(b.batches, b.changes, b.users)).Draw(rt, "recorded") {
			b.tell(e)
		}
		if rapid.Bool().Draw(rt, "merged") {
			s.merge(b.specimens[1], b.specimens[0])
			b.specimens[1] = b.specimens[0]
		}
		b.compareBalances()
		b.compareLineage()
		b.compareWhereUsed("/v1/supplies/"+b.resin, stock.Subject{ID: b.resin, Materials: []string{benchResin}, Window: edtf.Period{From: on("2020").From}})
		b.compareWhereUsed("/v1/supplies/"+b.solvent, stock.Subject{ID: b.solvent, Materials: []string{benchSolvent}, Window: edtf.Period{From: on("2020").From}})
	})
}

func (b *bench) compareBalances() {
	held, possible := b.replay()
	if !possible {
		b.t.Fatal("the values beside the record are of what cannot have happened")
	}
	for id, volume := range held.volume {
		if b.closed[id] {
			continue
		}
		got := b.do(http.MethodGet, "/v1/batches/"+id+"/contents?detail=full", nil).want(200)
		left, _ := got.at("now", "remaining", "value").(float64)
		strength, _ := got.at("now", "strength", "value").(float64)
		if want := 100 * held.solids[id] / volume; math.Abs(left-volume) > 1e-6*volume || math.Abs(strength-want) > 1e-3*want {
			b.t.Fatalf("got %v mL at %v g/dL, want %v at %v: %s", left, strength, volume, want, got.body)
		}
	}
}

// made are the batches as they are traced, what was added to each among it.
func (b *bench) made() []stock.User {
	var out []stock.User
	for _, e := range b.batches {
		user := stock.User{ID: e.jar, When: on(e.date), Uses: b.uses(e)}
		for _, change := range b.changes {
			if change.jar == e.jar && !change.retracted {
				user.Uses = append(user.Uses, b.uses(change)...)
			}
		}
		out = append(out, user)
	}
	return out
}

func (b *bench) compareLineage() {
	var links []stock.Link
	for _, batch := range b.made() {
		for _, u := range batch.Uses {
			if u.Stock != "" {
				links = append(links, stock.Link{From: u.Stock, Into: batch.ID})
			}
		}
	}
	for _, id := range b.all() {
		got, want := b.do(http.MethodGet, "/v1/batches/"+id+"/lineage", nil).want(200), stock.LineageOf(id, links)
		for list, nodes := range map[string][]stock.Node{"madeFrom": want.MadeFrom, "madeInto": want.MadeInto} {
			var there []stock.Node
			for _, n := range got.at(list).([]any) {
				there = append(there, stock.Node{ID: n.(object)["id"].(string), Depth: int(n.(object)["depth"].(float64))})
			}
			if d := diff.Diff(there, nodes); d != "" {
				b.t.Fatalf("%s of %s (-got +want):\n%s", list, id, d)
			}
		}
		if n := len(got.at("findings").([]any)); n != len(want.Findings) || len(got.at("links").([]any)) != len(want.Links) {
			b.t.Fatalf("got %s, want %d circles and %d links", got.body, len(want.Findings), len(want.Links))
		}
	}
}

func (b *bench) compareWhereUsed(path string, subject stock.Subject) {
	byID := func(x, y stock.User) int { return cmp.Compare(x.ID, y.ID) }
	var users []stock.User
	specimens := map[string]string{}
	for _, e := range b.users {
		if id := e.made.id(); !e.retracted {
			users = append(users, stock.User{ID: id, When: on(e.date), Uses: b.uses(e)})
			specimens[id] = e.specimen
			if b.specimens[0] == b.specimens[1] {
				specimens[id] = b.specimens[0]
			}
		}
	}
	made := b.made()
	slices.SortFunc(made, byID)
	slices.SortFunc(users, byID)
	want := stock.FindWhereUsed(subject, made, users)
	got := b.do(http.MethodGet, path+"/where-used", nil).want(200)
	for list, traces := range map[string][]stock.Trace{"certain": want.Certain, "possible": want.Possible, "cannotBeExcluded": want.CannotBeExcluded} {
		var there, wanted []string
		for _, row := range got.at(list).([]any) {
			r := row.(object)
			there = append(there, fmt.Sprint(idOf(r["treatment"]), " on ", idOf(r["specimen"]), " ", r["because"]))
		}
		for _, trace := range traces {
			wanted = append(wanted, fmt.Sprint(trace.Treatment, " on ", specimens[trace.Treatment], " ", trace.Because))
		}
		if d := diff.Diff(there, wanted); d != "" {
			b.t.Fatalf("%s of %s (-got +want):\n%s\n%s", list, path, d, got.body)
		}
	}
}
