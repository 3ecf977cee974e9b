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
// history is made: how much is in each jar and how many grams of resin, what went
// into what, and who used what.
type bench struct {
	*service
	t        *rapid.T
	day      int
	volume   map[string]float64 // of the jars whose amounts are known
	solids   map[string]float64
	batches  map[string]stock.User
	used     map[string]stock.User
	late     []func() // what is recorded long after it happened, in any order
	specimen string
}

const benchResin, benchSolvent = "ethyl-methacrylate-methyl-acrylate-copolymer", "acetone"

// today is another day each time, so that the order of what happened is known.
func (b *bench) today() string {
	b.day++
	return time.Date(2020, 1, b.day, 0, 0, 0, 0, time.UTC).Format(time.DateOnly)
}

func (b *bench) amount(label string, most float64) float64 {
	return float64(rapid.IntRange(1, max(1, int(most))).Draw(b.t, label))
}

func ml(x float64) object       { return object{"quantity": object{"value": x, "unit": "mL"}} }
func of(id string) object       { return object{"id": id} }
func on(day string) edtf.Period { return edtf.MustParse(day).Period() }

func (b *bench) any(label string, ids []string) string {
	slices.Sort(ids)
	return rapid.SampledFrom(ids).Draw(b.t, label)
}

func (b *bench) all() []string { return slices.Collect(maps.Keys(b.batches)) }

// jars are those with enough in them to take some.
func (b *bench) jars() []string {
	return slices.DeleteFunc(slices.Collect(maps.Keys(b.volume)), func(id string) bool { return b.volume[id] < 6 })
}

// make records a batch and keeps what went into it.
func (b *bench) make(kind, date string, finished float64, inputs array, uses ...stock.Use) string {
	st := object{"code": fmt.Sprint("B-", b.day), "kind": kind, "made": object{"edtf": date}, "inputs": inputs}
	if finished > 0 {
		st["finished"] = ml(finished)
	}
	id := b.create("/v1/batches", st).id()
	b.batches[id] = stock.User{ID: id, When: on(date), Uses: uses}
	return id
}

func into(from object, part string, amount object) object {
	return object{"from": from, "part": part, "amount": amount}
}

// pour fills a new batch from a jar, with or without more solvent.
func (b *bench) pour(jar, solvent string, taken, more float64) {
	date := b.today()
	inputs, uses := array{into(object{"batch": of(jar)}, "stock", ml(taken))}, []stock.Use{{Stock: jar}}
	kind := "bottle"
	if more > 0 {
		kind, inputs, uses = "dilution", append(inputs, into(object{"supply": of(solvent)}, "solvent", ml(more))), append(uses, stock.Use{Stock: solvent})
	}
	id := b.make(kind, date, taken+more, inputs, uses...)
	grams := b.solids[jar] / b.volume[jar] * taken
	b.volume[jar], b.solids[jar] = b.volume[jar]-taken, b.solids[jar]-grams
	b.volume[id], b.solids[id] = taken+more, grams
}

// change records later what became of part of a jar.
func (b *bench) change(jar, kind string, amount float64, with object, use *stock.Use) {
	st := object{"batch": of(jar), "kind": kind, "amount": ml(amount), "date": object{"edtf": b.today()}}
	if with != nil {
		st["with"] = with
	}
	date := st["date"].(object)["edtf"].(string)
	if use != nil {
		use.Later, use.When = true, on(date)
		made := b.batches[jar]
		made.Uses = append(made.Uses, *use)
		b.batches[jar] = made
	}
	b.late = append(b.late, func() { b.create("/v1/amount-changes", st) })
}

// treat records later a treatment that used something.
func (b *bench) treat(date string, used object, amount float64, use stock.Use) {
	st := treatment(b.specimen, "coating", date)
	m := object{"used": used}
	if amount > 0 {
		m["amount"] = ml(amount)
	}
	st["materials"] = array{m}
	fate := rapid.SampledFrom([]string{"stands", "stands", "stands", "amended", "retracted"}).Draw(b.t, "fate")
	if amount > 0 {
		fate = "stands" // the jars' amounts are kept beside it
	}
	b.late = append(b.late, func() {
		made := b.create("/v1/treatments", st)
		user := stock.User{ID: made.id(), When: on(date), Uses: []stock.Use{use}}
		switch fate {
		case "amended":
			st["materials"] = array{object{"used": object{"material": object{"id": benchResin}}}}
			b.amend(made, st)
			user.Uses = []stock.Use{{Materials: []string{benchResin}}}
		case "retracted":
			b.do(http.MethodPost, "/v1/records/"+made.id()+"/retraction", object{"reason": "Another bone."}, anyTag).want(201)
			return
		}
		b.used[user.ID] = user
	})
}

// step does one thing at the bench.
func (b *bench) step(solvent string) {
	if len(b.jars()) == 0 {
		b.loose()
		return
	}
	jar := b.any("jar", b.jars())
	left := b.volume[jar]
	switch rapid.IntRange(0, 9).Draw(b.t, "step") {
	case 0:
		b.pour(jar, solvent, b.amount("filled", left/3), 0)
	case 1:
		b.pour(jar, solvent, b.amount("stock", left/3), b.amount("solvent", 100))
	case 2:
		gone := b.amount("evaporated", left/3)
		b.change(jar, "evaporated", gone, nil, nil)
		b.volume[jar] -= gone
	case 3:
		more := b.amount("topped up", 100)
		b.change(jar, "topped-up", more, object{"supply": of(solvent)}, &stock.Use{Stock: solvent})
		b.volume[jar] += more
	case 4:
		other := b.any("other jar", b.jars())
		if other == jar {
			return
		}
		taken := b.amount("poured over", b.volume[other]/3)
		b.change(jar, "topped-up", taken, object{"batch": of(other)}, &stock.Use{Stock: other})
		grams := b.solids[other] / b.volume[other] * taken
		b.volume[other], b.solids[other] = b.volume[other]-taken, b.solids[other]-grams
		b.volume[jar], b.solids[jar] = b.volume[jar]+taken, b.solids[jar]+grams
	case 5:
		gone := b.amount("discarded", left/3)
		b.change(jar, "discarded", gone, nil, nil)
		b.solids[jar] -= b.solids[jar] / left * gone
		b.volume[jar] -= gone
	case 6:
		gone := b.amount("used", left/3)
		b.treat(b.today(), object{"batch": of(jar)}, gone, stock.Use{Stock: jar})
		b.solids[jar] -= b.solids[jar] / left * gone
		b.volume[jar] -= gone
	case 7:
		from, dates := b.any("any", b.all()), []string{"1990", "2020", "2020-01-04", "202X"}
		if _, known := b.volume[from]; known {
			dates = []string{"2021", "202X"} // not before what was poured from it
		}
		date := rapid.SampledFrom(dates).Draw(b.t, "when")
		delete(b.volume, from) // nobody knows how much left it
		b.treat(date, object{"batch": of(from)}, 0, stock.Use{Stock: from})
	case 8:
		b.loose()
	case 9:
		b.named()
	}
}

// loose makes a batch of a material, or of words, that nobody has a supply of;
// or a bottle of one.
func (b *bench) loose() {
	unknown := object{"answer": "unknown"}
	switch rapid.IntRange(0, 2).Draw(b.t, "loose") {
	case 0:
		b.make("solution", b.today(), 0, array{into(object{"material": object{"id": benchResin}}, "solute", unknown)}, stock.Use{Materials: []string{benchResin}})
	case 1:
		words, use := b.words()
		b.make("solution", b.today(), 0, array{into(words, "solute", unknown)}, use)
	case 2:
		from := b.any("from", b.all())
		b.make("mixture", b.today(), 0, array{into(object{"batch": of(from)}, "stock", unknown)}, stock.Use{Stock: from})
		delete(b.volume, from) // nobody knows how much left it
	}
}

// named records a treatment with a material or words.
func (b *bench) named() {
	date := rapid.SampledFrom([]string{"1990", "2020-02", "2021", "202X"}).Draw(b.t, "when")
	if rapid.Bool().Draw(b.t, "in words") {
		words, use := b.words()
		b.treat(date, words, 0, use)
		return
	}
	b.treat(date, object{"material": object{"id": benchResin}}, 0, stock.Use{Materials: []string{benchResin}})
}

func (b *bench) words() (object, stock.Use) {
	use := stock.Use{Words: "old jar", Candidates: rapid.SampledFrom([][]string{nil, {benchResin, "shellac"}, {"shellac"}}).Draw(b.t, "candidates")}
	said := object{"verbatim": "old jar", "certainty": "unknown"}
	if use.Candidates != nil {
		said["candidates"] = use.Candidates
	}
	return object{"words": said}, use
}

// Histories of jars, recorded late and out of order, are answered as the plain
// values kept beside them say: what is left and how strong, what was made from
// what, and the three lists of where a supply and a batch were used.
func TestStockAgreesWithPlainValues(t *testing.T) {
	t.Parallel()
	shared := newService(t)
	rapid.Check(t, func(rt *rapid.T) {
		s := shared.in(t)
		s.inst, s.key = addInstitution(t, s.db, s.store, "Museum of the Lower Valley")
		b := &bench{service: s, t: rt, volume: map[string]float64{}, solids: map[string]float64{}, batches: map[string]stock.User{}, used: map[string]stock.User{}}
		b.specimen = s.create("/v1/specimens", specimen("LV.1")).id()
		resin := s.create("/v1/supplies", object{"code": "S-1", "material": object{"id": benchResin}, "received": object{"edtf": "2020"}}).id()
		solvent := s.create("/v1/supplies", object{"code": "S-2", "material": object{"id": benchSolvent}, "received": object{"edtf": "2020"}}).id()
		jar := b.make("solution", b.today(), 150, array{into(object{"supply": of(resin)}, "solute", object{"quantity": object{"value": 30, "unit": "g"}}),
			into(object{"supply": of(solvent)}, "solvent", object{"answer": "unknown"})}, stock.Use{Stock: resin}, stock.Use{Stock: solvent})
		b.volume[jar], b.solids[jar] = 150, 30
		for range rapid.IntRange(2, 10).Draw(rt, "steps") {
			b.step(solvent)
		}
		for _, record := range rapid.Permutation(b.late).Draw(rt, "recorded") {
			record()
		}
		b.compareBalances()
		b.compareLineage()
		b.compareWhereUsed("/v1/supplies/"+resin, stock.Subject{ID: resin, Materials: []string{benchResin}, Window: edtf.Period{From: on("2020").From}})
		b.compareWhereUsed("/v1/supplies/"+solvent, stock.Subject{ID: solvent, Materials: []string{benchSolvent}, Window: edtf.Period{From: on("2020").From}})
	})
}

func (b *bench) compareBalances() {
	for id, volume := range b.volume {
		got := b.do(http.MethodGet, "/v1/batches/"+id+"/contents", nil).want(200)
		left, _ := got.at("now", "remaining", "value").(float64)
		strength, _ := got.at("now", "strength", "value").(float64)
		if want := 100 * b.solids[id] / volume; math.Abs(left-volume) > 1e-6*volume || math.Abs(strength-want) > 1e-3*want {
			b.t.Fatalf("got %v mL at %v g/dL, want %v at %v: %s", left, strength, volume, want, got.body)
		}
	}
}

func (b *bench) compareLineage() {
	var links []stock.Link
	for _, batch := range b.batches {
		for _, u := range batch.Uses {
			if u.Stock != "" {
				links = append(links, stock.Link{From: u.Stock, Into: batch.ID})
			}
		}
	}
	for id := range b.batches {
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
	want := stock.FindWhereUsed(subject, slices.SortedFunc(maps.Values(b.batches), byID), slices.SortedFunc(maps.Values(b.used), byID))
	got := b.do(http.MethodGet, path+"/where-used", nil).want(200)
	for list, traces := range map[string][]stock.Trace{"certain": want.Certain, "possible": want.Possible, "cannotBeExcluded": want.CannotBeExcluded} {
		var there, wanted []string
		for _, row := range got.at(list).([]any) {
			there = append(there, row.(object)["treatment"].(string)+" "+row.(object)["because"].(string))
		}
		for _, trace := range traces {
			wanted = append(wanted, trace.Treatment+" "+trace.Because)
		}
		if d := diff.Diff(there, wanted); d != "" {
			b.t.Fatalf("%s of %s (-got +want):\n%s\n%s", list, path, d, got.body)
		}
	}
}
