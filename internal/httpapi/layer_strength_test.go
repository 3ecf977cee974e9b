package httpapi_test

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"net/http"
	"strings"
	"testing"

	"github.com/google/uuid"
)

const copolymer = "ethyl-methacrylate-methyl-acrylate-copolymer"

// strengths is a service with a jar of 30 g in 150 mL, and skulls to coat.
type strengths struct {
	*service
	resin, solvent string
	jar            reply
}

func newStrengths(t *testing.T) strengths {
	t.Helper()
	s := strengths{service: newService(t)}
	s.resin = s.create("/v1/supplies", object{"code": "S-1", "material": of(copolymer)}).id()
	s.solvent = s.create("/v1/supplies", object{"code": "S-2", "material": of("acetone")}).id()
	s.jar = s.create("/v1/batches", s.solution("B-1", 30))
	return s
}

// solution is so much resin, filled to 150 mL.
func (s strengths) solution(code string, grams float64) object {
	return object{"code": code, "kind": "solution", "finished": ml(150), "inputs": array{
		into(object{"supply": of(s.resin)}, "solute", g(grams)), into(object{"supply": of(s.solvent)}, "solvent", object{"answer": "unknown"})}}
}

func g(x float64) object { return object{"quantity": object{"value": x, "unit": "g"}} }

func (s strengths) change(batch, kind, date string, amount float64, with object) reply {
	s.t.Helper()
	return s.create("/v1/amount-changes", amountChange(batch, kind, date, amount, with))
}

func amountChange(batch, kind, date string, amount float64, with object) object {
	st := object{"batch": of(batch), "kind": kind, "amount": ml(amount), "date": object{"edtf": date}}
	if with != nil {
		st["with"] = with
	}
	return st
}

func (s strengths) bottle(from, code, date string) string {
	s.t.Helper()
	return s.do(http.MethodPost, "/v1/batches/"+from+"/bottles", object{"filled": object{"edtf": date}, "bottles": array{object{"code": code, "amount": object{"value": 20, "unit": "mL"}}}},
		header{"Idempotency-Key", uuid.NewString()}).want(201).at("items", 0, "id").(string)
}

// coating is a coat from a batch; no amount is said where ml is zero.
func coating(skull, batch, date string, amount float64) object {
	st := treatment(skull, "coating", date)
	use := object{"used": object{"batch": of(batch)}}
	if amount > 0 {
		use["amount"] = ml(amount)
	}
	st["materials"] = array{use}
	return st
}

// layer is the one layer of a treatment in a specimen's present state.
func (s strengths) layer(skull, treatment, query string) map[string]any {
	s.t.Helper()
	got := s.do(http.MethodGet, "/v1/specimens/"+skull+"/present-state?detail=full"+query, nil).want(200)
	areas, _ := got.at("areas").([]any)
	for _, a := range areas {
		layers, _ := a.(map[string]any)["layers"].([]any)
		for _, l := range layers {
			if l := l.(map[string]any); idOf(l["treatment"]) == treatment {
				return l
			}
		}
	}
	s.t.Fatalf("no layer of %s in %s", treatment, got.body)
	return nil
}

// wantStrength wants a layer to be of so many g/dL.
func wantStrength(t *testing.T, what string, layer map[string]any, want float64, origin string) {
	t.Helper()
	strength, _ := layer["strength"].(map[string]any)
	value, _ := strength["value"].(float64)
	if math.Abs(value-want) > 1e-3*want || strength["origin"] != origin || strength["unit"] != "g/dL" {
		t.Errorf("%s: got the strength %v, want %v g/dL, %s", what, strength, want, origin)
	}
}

// kept is the layer of a treatment as reports read it.
func (s strengths) kept(treatment string) map[string]any {
	s.t.Helper()
	got := s.do(http.MethodGet, "/v1/reports/reversible-treatments", nil).want(200)
	items, _ := got.at("items").([]any)
	for _, item := range items {
		if item := item.(map[string]any); idOf(item["treatment"]) == treatment {
			return item
		}
	}
	s.t.Fatalf("no layer of %s in %s", treatment, got.body)
	return nil
}

func (s strengths) wantVerified(what string) {
	s.t.Helper()
	s.refresh()
	if wrong := s.verify(); len(wrong) > 0 {
		s.t.Errorf("%s: got %v, want what is kept to be what the record gives", what, wrong)
	}
}

// 30 g in 150 mL are 20 g/dL; 30 mL are used, 80 mL of solvent come to the 24 g in
// the other 120, and make 12; a bottle of that, and a bottle of the bottle, hold the same. Each treatment has
// the strength of its day, now, in what reports keep, and in what is published.
func TestALayerHasTheStrengthOfItsDay(t *testing.T) {
	t.Parallel()
	s := newStrengths(t)
	skull := s.create("/v1/specimens", specimen("LV.1")).id()
	before := s.create("/v1/treatments", coating(skull, s.jar.id(), "2024-05", 30)).id()
	s.change(s.jar.id(), "topped-up", "2024-06-01", 80, object{"supply": of(s.solvent)})
	after := s.create("/v1/treatments", coating(skull, s.jar.id(), "2024-07", 0)).id()
	bottle := s.bottle(s.jar.id(), "B-1-1", "2024-06-15")
	ofBottle := s.create("/v1/treatments", coating(skull, bottle, "2024-08", 0)).id()
	bottled := s.create("/v1/treatments", coating(skull, s.bottle(bottle, "B-1-1-1", "2024-06-16"), "2024-09", 0)).id()
	s.wantVerified("after the treatments")
	for id, want := range map[string]float64{before: 20, after: 12, ofBottle: 12, bottled: 12} {
		wantStrength(t, "present", s.layer(skull, id, ""), want, "weighed")
		wantStrength(t, "kept", s.kept(id), want, "weighed")
		if page := s.as(asPage, "/v1/treatments/"+id).want(200).body; !strings.Contains(string(page), fmt.Sprintf("%v g", want)) {
			t.Errorf("got %s, want %v g per 100 mL", page, want)
		}
		if got := s.findings(id, "gloss-and-darkening"); len(got) != 1 || !strings.Contains(got[0], fmt.Sprintf("of %v ", want)) || !strings.Contains(got[0], "g/dL by the amounts that were measured") {
			t.Errorf("got %v, want the strength, %v g/dL, said", got, want)
		}
	}
}

func (s strengths) findings(treatment, rule string) (sentences []string) {
	s.t.Helper()
	items, _ := s.do(http.MethodGet, "/v1/treatments/"+treatment+"/findings?detail=full", nil).want(200).at("items").([]any)
	for _, item := range items {
		if f := item.(map[string]any); f["rule"] == rule {
			sentences = append(sentences, f["sentence"].(string))
		}
	}
	return sentences
}

// What is weighed comes before the label, and the label before the recipe; each
// says which it is, as the contents do.
func TestALayerSaysHowItsStrengthIsKnown(t *testing.T) {
	t.Parallel()
	s := newStrengths(t)
	per100 := func(value float64) object {
		return object{"value": value, "unit": "g/dL", "basis": "mass-per-solution-volume"}
	}
	unmeasured := array{into(object{"supply": of(s.resin)}, "solute", object{"answer": "unknown"}), into(object{"supply": of(s.solvent)}, "solvent", object{"answer": "unknown"})}
	measured := array{into(object{"supply": of(s.resin)}, "solute", g(15)), into(object{"supply": of(s.solvent)}, "solvent", g(100))}
	for _, c := range []struct {
		name     string
		more     object
		strength float64
		origin   string
	}{
		{"weighed against the label", object{"inputs": measured, "finished": ml(150), "labelStrength": per100(12), "recipe": object{"strength": per100(11), "amount": object{"value": 150, "unit": "mL"}}}, 10, "weighed"},
		{"the label", object{"inputs": unmeasured, "labelStrength": per100(12), "recipe": object{"strength": per100(11), "amount": object{"value": 150, "unit": "mL"}}}, 12, "label"},
		{"the recipe", object{"inputs": unmeasured, "recipe": object{"strength": per100(11), "amount": object{"value": 150, "unit": "mL"}}}, 11, "recipe"},
	} {
		st := object{"code": c.name, "kind": "solution"}
		for name, value := range c.more {
			st[name] = value
		}
		batch := s.create("/v1/batches", st).id()
		skull := s.create("/v1/specimens", specimen(c.name)).id()
		id := s.create("/v1/treatments", coating(skull, batch, "2024-05", 0)).id()
		wantStrength(t, c.name, s.layer(skull, id, ""), c.strength, c.origin)
		if now, _ := s.do(http.MethodGet, "/v1/batches/"+batch+"/contents?detail=full", nil).want(200).at("now", "strength", "value").(float64); c.origin != "recipe" && math.Abs(now-c.strength) > 1e-6 {
			t.Errorf("%s: the contents say %v g/dL, the layer %v", c.name, now, c.strength)
		}
	}
}

// An entry that was amended, retracted or recorded late changes what is kept of
// every layer whose strength depends on it, and no earlier belief.
func TestWhatIsKeptFollowsTheStock(t *testing.T) {
	t.Parallel()
	s := newStrengths(t)
	skull, jaw := s.create("/v1/specimens", specimen("LV.1")).id(), s.create("/v1/specimens", specimen("LV.2")).id()
	bottle := s.bottle(s.jar.id(), "B-1-1", "2024-08")
	coat := s.create("/v1/treatments", coating(skull, bottle, "2024-09", 0)).id()
	want := func(what string, strength float64) {
		t.Helper()
		s.wantVerified(what)
		wantStrength(t, what, s.kept(coat), strength, "weighed")
		wantStrength(t, what, s.layer(skull, coat, ""), strength, "weighed")
	}
	want("as made", 20)
	asMade := s.now()
	gone := s.change(s.jar.id(), "evaporated", "2024-06", 30, nil) // 30 g in 120 mL
	want("after an evaporation", 25)
	evaporated := s.now()
	used := s.create("/v1/treatments", coating(jaw, s.jar.id(), "2024-05", 50)) // 20 g in 70 mL
	want("after a treatment of another specimen took of it before", 20.0/0.7)
	used = s.amend(used, coating(jaw, s.jar.id(), "2024-05", 75)) // 15 g in 45 mL
	want("after that was amended", 15/0.45)
	tookMore := s.now()
	s.amend(used, coating(jaw, bottle, "2024-10", 1)) // not of the jar after all
	want("after that turned out to be from elsewhere", 25)
	s.jar = s.amend(s.jar, s.solution("B-1", 60))
	want("after an input of the jar was amended", 50)
	s.do(http.MethodPost, "/v1/records/"+gone.id()+"/retraction", object{"reason": "Twice."}, header{"If-Match", gone.header.Get("ETag")}).want(201)
	want("after the evaporation was retracted", 40)
	for at, strength := range map[string]float64{asMade: 20, evaporated: 25, tookMore: 15 / 0.45, s.now(): 40} {
		wantStrength(t, "believed then", s.layer(skull, coat, "&believedAt="+at), strength, "weighed")
	}
}

// A check before the work is done takes the strength of the day.
func TestAProposedTreatmentHasTheStrengthOfItsDay(t *testing.T) {
	t.Parallel()
	s := newStrengths(t)
	skull := s.create("/v1/specimens", specimen("LV.1")).id()
	s.change(s.jar.id(), "topped-up", "2024-06-01", 100, object{"supply": of(s.solvent)})
	for date, want := range map[string]string{"2024-05": "of 20 g/dL", "2024-07": "of 12 g/dL by", "": "of 12 g/dL by"} {
		st := coating(skull, s.jar.id(), date, 0)
		if date == "" {
			st["dates"] = object{"answer": "unknown"}
		}
		got := s.do(http.MethodPost, "/v1/treatment-checks?detail=full", object{"treatment": st}).want(200)
		if !strings.Contains(string(got.body), want) {
			t.Errorf("on %q: got %s, want it said to be %s", date, got.body, want)
		}
	}
}

// The dilution of the invented museum: 25 mL of 30.1 g in 150 mL, and 75 mL of
// solvent, are 5.02 g/dL; the lacquer of 100 g in 500 mL is 20.
func TestTheStrengthsOfTheDemo(t *testing.T) {
	t.Parallel()
	s := strengths{service: newService(t)}
	for _, line := range demoRequests(t) {
		s.do(http.MethodPost, line.path, line.body).want(201)
	}
	const prefix = "01900000-0000-7000-8000-0000000000"
	wantStrength(t, "the dilution", s.layer(prefix+"22", prefix+"33", ""), 25*30.1/150, "weighed")
	if got := s.findings(prefix+"33", "gloss-and-darkening"); len(got) != 0 {
		t.Errorf("got %v, want nothing said of a thin solution", got)
	}
	if got := s.findings(prefix+"30", "gloss-and-darkening"); len(got) != 1 || !strings.Contains(got[0], "of 20 g/dL by the amounts that were measured") {
		t.Errorf("got %v, want the strength said", got)
	}
	s.wantVerified("the demo")
}

// Whatever is recorded, amended and retracted in whatever order, what is kept of
// layers is what the record gives, without everything being looked at again; and
// what is believed at the end is what stands.
func TestWhatIsKeptIsWhatTheRecordGives(t *testing.T) {
	t.Parallel()
	for seed := range uint64(3) {
		t.Run(fmt.Sprint(seed), func(t *testing.T) {
			t.Parallel()
			muddle{strengths: newStrengths(t), rand: rand.New(rand.NewPCG(seed, 1))}.run()
		})
	}
}

// muddle records this and that about a few jars and specimens.
type muddle struct {
	strengths
	rand *rand.Rand
}

func (m muddle) run() {
	skulls := []string{}
	for i := range 4 {
		skulls = append(skulls, m.create("/v1/specimens", specimen(fmt.Sprint("LV.", i))).id())
	}
	batches := []string{m.jar.id(), m.create("/v1/batches", m.solution("B-2", 12)).id()}
	var stated []func()
	any := func(list []string) string { return list[m.rand.IntN(len(list))] }
	day := func() string { return fmt.Sprintf("2024-%02d-%02d", 1+m.rand.IntN(9), 1+m.rand.IntN(28)) }
	keep := func(made reply, anew func() object) {
		stated = append(stated, func() {
			if m.rand.IntN(4) > 0 {
				made = m.amend(made, anew())
			}
		})
	}
	say := func() {
		switch m.rand.IntN(5) {
		case 0:
			anew := func() object { return coating(any(skulls), any(batches), day(), float64(m.rand.IntN(9))) }
			keep(m.create("/v1/treatments", anew()), anew)
		case 1, 2:
			anew := func() object {
				kind := []string{"evaporated", "topped-up", "used", "discarded"}[m.rand.IntN(4)]
				var with object
				if kind == "topped-up" {
					with = []object{{"supply": of(m.solvent)}, {"batch": of(any(batches))}, {"material": of("ethanol")}}[m.rand.IntN(3)]
				}
				return amountChange(any(batches), kind, day(), float64(1+m.rand.IntN(9)), with)
			}
			keep(m.create("/v1/amount-changes", anew()), anew)
		case 3:
			batches = append(batches, m.bottle(any(batches), uuid.NewString(), day()))
		case 4:
			if len(stated) > 0 {
				stated[m.rand.IntN(len(stated))]()
			}
		}
	}
	for range 8 {
		for range 6 {
			say()
		}
		m.wantVerified("after some more")
	}
	at := m.now()
	for _, skull := range skulls {
		now, then := m.do(http.MethodGet, "/v1/specimens/"+skull+"/present-state?detail=full", nil).want(200), m.do(http.MethodGet, "/v1/specimens/"+skull+"/present-state?detail=full&believedAt="+at, nil).want(200)
		if !bytes.Equal(now.body, then.body) {
			m.t.Errorf("got %s believed, want what stands, %s", then.body, now.body)
		}
	}
}

// A lineage of which not everything is read says that there is more.
func TestALineageSaysWhereItIsCut(t *testing.T) {
	t.Parallel()
	s := newStrengths(t)
	jar := uuid.MustParse(s.jar.id()) // of two supplies
	for most, whole := range map[int]bool{1: false, 2: true} {
		got, err := s.store.For(s.inst).LinksOf(t.Context(), jar, most)
		if err != nil || got.Whole != whole || len(got.Links) != most {
			t.Errorf("at most %d: got %d, whole %v, %v; want whole %v", most, len(got.Links), got.Whole, err, whole)
		}
	}
	for path, member := range map[string]string{"/v1/batches/" + s.jar.id() + "/lineage": "madeFrom", "/v1/supplies/" + s.resin + "/where-used": "certain"} {
		if got := s.do(http.MethodGet, path, nil).want(200); got.at("complete") != true || got.at(member) == nil {
			t.Errorf("%s: got %s, want it complete", path, got.body)
		}
	}
}
