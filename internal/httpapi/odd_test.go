package httpapi_test

import (
	"net/http"
	"slices"
	"testing"

	"github.com/google/uuid"
)

// rulesIn are the rules of the findings beside a record, in their order.
func rulesIn(record any) (rules []string) {
	list, _ := record.(object)["findings"].([]any)
	for _, f := range list {
		rules = append(rules, f.(object)["rule"].(string))
	}
	return rules
}

func (s *service) wantRules(what string, record any, want ...string) {
	s.t.Helper()
	if got := rulesIn(record); !slices.Equal(got, want) {
		s.t.Errorf("%s: got the findings %v, want %v", what, got, want)
	}
}

// The answer to a create says what is odd and needs no layers; it is recorded all
// the same.
func TestTheAnswerToACreateSaysWhatIsOdd(t *testing.T) {
	t.Parallel()
	s := newService(t)
	skull := s.create("/v1/specimens", specimen("LV.1987/0042")).id()
	supply := s.create("/v1/supplies", object{"code": "S-1", "material": of(copolymer), "received": object{"edtf": "2020-02"}, "expires": object{"edtf": "2021"}})
	s.wantRules("a supply", supply.at())
	s.wantRules("a supply of the future", s.create("/v1/supplies", object{"code": "S-2", "material": of(copolymer), "received": object{"edtf": "2199"}}).at(), "date-in-future")
	batch := s.create("/v1/batches", object{"code": "B-1", "kind": "solution", "made": object{"edtf": "2020-05-01"}, "inputs": array{into(object{"supply": of(supply.id())}, "solute", g(5))}})
	s.wantRules("a batch", batch.at())
	s.wantRules("a batch of an old supply", s.create("/v1/batches", object{"code": "B-2", "kind": "solution", "made": object{"edtf": "2022-05-01"}, "inputs": array{into(object{"supply": of(supply.id())}, "solute", g(5))}}).at(), "supply-expired")
	bottles := s.do(http.MethodPost, "/v1/batches/"+batch.id()+"/bottles", object{"filled": object{"edtf": "2020-04-30"}, "bottles": array{object{"code": "B-1/1", "amount": object{"value": 20, "unit": "mL"}}}}, header{"Idempotency-Key", uuid.NewString()}).want(201)
	s.wantRules("a bottle filled too early", bottles.at("items", 0), "batch-not-yet-made")
	s.wantRules("a change before there was a batch", s.create("/v1/amount-changes", object{"batch": of(batch.id()), "kind": "discarded", "date": object{"edtf": "2019"}, "amount": object{"answer": "unknown"}}).at(), "batch-not-yet-made")

	with := func(date string, used object) object {
		st := treatment(skull, "coating", date)
		st["materials"] = array{object{"used": used}}
		return st
	}
	bottle := bottles.at("items", 0, "id").(string)
	for name, row := range map[string]struct {
		st   object
		want []string
	}{
		"in order":                   {with("2020-06", object{"batch": of(batch.id())}), nil},
		"a batch of later":           {with("2020-04-15", object{"batch": of(batch.id())}), []string{"batch-not-yet-made"}},
		"a bottle of later":          {with("2020-04-15", object{"batch": of(bottle)}), []string{"bottle-not-yet-filled"}},
		"a supply that had expired":  {with("2023", object{"supply": of(supply.id())}), []string{"supply-expired"}},
		"a supply of later":          {with("2019", object{"supply": of(supply.id())}), []string{"supply-not-yet-received"}},
		"a treatment of the future":  {with("2199-01-01", object{"batch": of(batch.id())}), []string{"date-in-future", "batch-old"}},
		"words that nobody can read": {with("2020-06", object{"words": object{"verbatim": "old jar", "certainty": "unknown"}}), nil},
	} {
		made := s.create("/v1/treatments", row.st)
		s.wantRules(name, made.at(), row.want...)
		if len(row.want) > 0 && row.want[0] != "date-in-future" && made.at("findings", 0, "records") == nil {
			t.Errorf("%s: got %s, want the record named", name, made.body)
		}
		if read := s.do(http.MethodGet, "/v1/treatments/"+made.id(), nil).want(200); read.at("findings") != nil {
			t.Errorf("%s: got %s, want what was recorded as it was said", name, read.body)
		}
		listed := rulesIn(object{"findings": s.do(http.MethodGet, "/v1/treatments/"+made.id()+"/findings?detail=full", nil).want(200).at("items")})
		for _, rule := range row.want {
			if !slices.Contains(listed, rule) {
				t.Errorf("%s: got the findings %v at its address, want %s among them", name, listed, rule)
			}
		}
	}
	plan := s.create("/v1/plans", object{"treatment": with("2199-01-01", object{"supply": of(supply.id())})})
	s.wantRules("a plan", plan.at(), "supply-expired")
	check := s.do(http.MethodPost, "/v1/treatment-checks?detail=full", object{"treatment": with("2023", object{"supply": of(supply.id())})}).want(200)
	if rules := rulesIn(check.at()); !slices.Contains(rules, "supply-expired") {
		t.Errorf("the check: got the findings %v, want supply-expired among them", rules)
	}
}

// checkedRules are the rules of a check's findings.
func (s *service) checkedRules(st object) []string {
	return rulesIn(s.do(http.MethodPost, "/v1/treatment-checks?detail=full", object{"treatment": st}).want(200).at())
}

// A check tells of a proposal for now what a record of now would tell, and of one that is on
// record already that it is.
func TestACheckHasASenseOfDates(t *testing.T) {
	t.Parallel()
	s := newService(t)
	skull := s.create("/v1/specimens", specimen("LV.1987/0042")).id()
	supply := s.create("/v1/supplies", object{"code": "S-1", "material": of(copolymer), "expires": object{"edtf": "2021"}})
	batch := s.create("/v1/batches", object{"code": "B-1", "kind": "solution", "made": object{"edtf": "2020-05-01"},
		"inputs": array{into(object{"supply": of(supply.id())}, "solute", g(5))}})
	st := treatment(skull, "coating", "")
	st["dates"] = object{"answer": "unknown"}
	for rule, used := range map[string]object{"supply-expired": {"supply": of(supply.id())}, "batch-old": {"batch": of(batch.id())}} {
		st["materials"] = array{object{"used": used}}
		if rules := s.checkedRules(st); !slices.Contains(rules, rule) {
			t.Errorf("a proposal without a date: got %v, want %s", rules, rule)
		}
	}
	was := treatment(skull, "cleaning", "1998")
	if rules := s.checkedRules(was); slices.Contains(rules, "treatment-said-twice") {
		t.Errorf("before it was recorded: got %v", rules)
	}
	s.create("/v1/treatments", was)
	if rules := s.checkedRules(was); !slices.Contains(rules, "treatment-said-twice") {
		t.Errorf("what is on record: got %v, want treatment-said-twice", rules)
	}
}

// A batch that is said to be made after it was used tells it among its own findings.
func TestABatchMadeAfterItWasUsed(t *testing.T) {
	t.Parallel()
	s := newService(t)
	skull := s.create("/v1/specimens", specimen("LV.1987/0042")).id()
	batch := s.create("/v1/batches", object{"code": "B-1", "kind": "solution", "made": object{"edtf": "2021-05-01"},
		"inputs": array{into(object{"material": object{"id": copolymer}}, "solute", g(5))}})
	used := func(date string) {
		st := treatment(skull, "coating", date)
		st["materials"] = array{object{"used": object{"batch": of(batch.id())}}}
		s.create("/v1/treatments", st)
	}
	told := func() []string {
		return rulesIn(s.do(http.MethodGet, "/v1/batches/"+batch.id()+"/contents?detail=full", nil).want(200).at())
	}
	if used("2021-06"); slices.Contains(told(), "stock-used-before-made") {
		t.Errorf("used after it was made: got %v", told())
	}
	if used("2020-12"); !slices.Contains(told(), "stock-used-before-made") {
		t.Errorf("used before it was made: got %v, want stock-used-before-made", told())
	}
}

// A treatment that says the same of the same specimen is recorded, and told; one
// that says anything else, or whose twin was retracted, is not.
func TestATreatmentSaidTwiceIsTold(t *testing.T) {
	t.Parallel()
	s := newService(t)
	skull, jaw := s.create("/v1/specimens", specimen("LV.1987/0042")).id(), s.create("/v1/specimens", specimen("LV.1987/0043")).id()
	first := s.create("/v1/treatments", treatment(skull, "cleaning", "1998"))
	s.wantRules("the first", first.at())
	again := treatment("", "cleaning", "1998")
	again["specimen"], again["event"] = numbered("LV.1987/0042"), object{"id": uuid.NewString()} // by its number, in an event of its own
	twice := s.create("/v1/treatments", again)
	s.wantRules("the second", twice.at(), "treatment-said-twice")
	if twice.at("findings", 0, "records", 0, "id") != first.id() {
		t.Errorf("got %s, want the first named", twice.body)
	}
	other := treatment(skull, "cleaning", "1998")
	other["remarks"] = "The other side."
	for name, st := range map[string]object{"another remark": other, "another date": treatment(skull, "cleaning", "1999"), "another specimen": treatment(jaw, "cleaning", "1998"), "another action": treatment(skull, "desalination", "1998")} {
		s.wantRules(name, s.create("/v1/treatments", st).at())
	}
	for _, id := range []string{first.id(), twice.id()} {
		s.do(http.MethodPost, "/v1/records/"+id+"/retraction", object{"reason": "Twice."}, anyTag).want(201)
	}
	s.wantRules("when the others are retracted", s.create("/v1/treatments", treatment(skull, "cleaning", "1998")).at())
	group := s.do(http.MethodPost, "/v1/group-treatments", object{"statement": treatment(jaw, "coating", "2001"), "alsoOn": array{object{"specimen": object{"id": skull}}}}, header{"Idempotency-Key", uuid.NewString()}).want(201)
	s.wantRules("a group", group.at("items", 0))
	group = s.do(http.MethodPost, "/v1/group-treatments", object{"statement": treatment(jaw, "coating", "2001"), "alsoOn": array{object{"specimen": object{"id": skull}, "remarks": "Twice."}}}, header{"Idempotency-Key", uuid.NewString()}).want(201)
	s.wantRules("the group again", group.at("items", 0), "treatment-said-twice")
	s.wantRules("a line that says more", group.at("items", 1))
}

// A specimen that another museum has is told, also by the record that was merged
// into its own.
func TestASpecimenThatWentIsTold(t *testing.T) {
	t.Parallel()
	s := newService(t)
	skull, twin := s.create("/v1/specimens", specimen("LV.1987/0042")).id(), s.create("/v1/specimens", specimen("F-17")).id()
	s.do(http.MethodPost, "/v1/specimens/"+twin+"/merge", object{"into": object{"id": skull}, "reason": "One."}, anyTag).want(201)
	s.passOn(skull, "Museum on the Hill").want(201) // in March 2026
	for _, id := range []string{skull, twin} {
		s.wantRules("before it went", s.create("/v1/treatments", treatment(id, "cleaning", "2026-02")).at())
		s.wantRules("after it went", s.create("/v1/treatments", treatment(id, "cleaning", "2026-05")).at(), "specimen-passed-on")
	}
}

// What is told beside a record costs one more question to the database.
func TestFindingsOfACreateCostOneRoundTrip(t *testing.T) {
	t.Parallel()
	s, trips := counted(t)
	skull := s.create("/v1/specimens", specimen("LV.1987/0042")).id()
	// The key, the institution's materials, what is named, what is odd, the write.
	most := map[string]int64{"/v1/treatments": 5, "/v1/specimens": 4}
	for path, st := range map[string]object{"/v1/treatments": treatment(skull, "cleaning", "1998"), "/v1/specimens": specimen("LV.1987/0099")} {
		if got := trips.During(func() { s.create(path, st) }); got > most[path] {
			t.Errorf("%s: got %d round trips, want %d at the most", path, got, most[path])
		}
	}
	request := tray(40)
	if got := trips.During(func() {
		s.do(http.MethodPost, "/v1/group-treatments", request, header{"Idempotency-Key", "tray"}).want(201)
	}); got > 5 {
		t.Errorf("forty at once: got %d round trips, want 5 at the most", got)
	}
}
