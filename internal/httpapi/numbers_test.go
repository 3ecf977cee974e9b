package httpapi_test

import (
	"fmt"
	"net/http"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"
)

// distinct registers a specimen of which the caller says that it is none of these.
func (s *service) distinct(statement object, distinctFrom ...string) reply {
	s.t.Helper()
	body := object{"statement": statement}
	if len(distinctFrom) > 0 {
		body["distinctFrom"] = refs(distinctFrom...)
	}
	return s.do(http.MethodPost, "/v1/specimens", body, header{"Idempotency-Key", uuid.NewString()}).want(http.StatusCreated)
}

// refs are references to records.
func refs[T any](ids ...T) (list array) {
	for _, id := range ids {
		list = append(list, object{"id": id})
	}
	return list
}

// numbered names a specimen by its catalogue number.
func numbered(number string) object {
	return object{"identifier": object{"kind": "catalogue-number", "value": number, "collection": "palaeontology"}}
}

// cleaningOf is a treatment on a specimen by its number.
func cleaningOf(number string) object {
	st := treatment("", "cleaning", "1998")
	st["specimen"] = numbered(number)
	return st
}

func (s *service) try(path string, statement object, headers ...header) reply {
	s.t.Helper()
	return s.do(http.MethodPost, path, object{"statement": statement}, append(headers, header{"Idempotency-Key", uuid.NewString()})...)
}

// specimensHere counts the specimens on record.
func (s *service) specimensHere() int {
	s.t.Helper()
	return len(s.do(http.MethodGet, "/v1/specimens?limit=100", nil).want(200).ids())
}

// A number that is nearly known is asked about before a second specimen is made of
// it, whatever registers it; nothing is recorded meanwhile.
func TestNearlyKnownNumberIsAsked(t *testing.T) {
	t.Parallel()
	s := newService(t)
	skull := s.create("/v1/specimens", specimen("LV.1987/0042")).id()
	s.create("/v1/specimens", specimen("2004.1.12"))
	plan := func(number string) object { return object{"treatment": cleaningOf(number)} }
	for _, number := range []string{"LV.1987/42", "LV 1987-42", "lv.1987/0042", "LV.1987/042", "LV1987/0042", "LV\u200e.1987/0042", "ＬＶ.1987/0042"} {
		for path, row := range map[string]struct {
			body    object
			pointer string
		}{
			"/v1/specimens":  {specimen(number), "/statement/identifiers/0/value"},
			"/v1/treatments": {cleaningOf(number), "/statement/specimen/identifier"},
			"/v1/plans":      {plan(number), "/statement/treatment/specimen/identifier"},
		} {
			got := s.try(path, row.body).wantProblem(409, "number-nearly-known")
			want := array{object{"id": skull, "kind": "catalogue-number", "number": "LV.1987/0042", "collection": "palaeontology",
				"href": "https://meniscus.example/v1/specimens/" + skull}}
			if diff := cmp.Diff(want, got.at("candidates")); diff != "" || got.at("errors", 0, "pointer") != row.pointer {
				t.Errorf("%s on %q: got %s (-want +got):\n%s", path, number, got.body, diff)
			}
		}
	}
	if got := s.specimensHere(); got != 2 {
		t.Fatalf("got %d specimens, want the two that were there", got)
	}
	for _, number := range []string{"2004.11.2", "2004.112", "LV.1987/0420", "LV.1987/0043", "LV.1987/0042a", "LV.19870/042"} {
		s.create("/v1/specimens", specimen(number))
	}
	other := func(kind, collection, number string) object {
		return object{"identifiers": array{object{"kind": kind, "value": number}}, "collection": collection}
	}
	s.create("/v1/specimens", other("field-number", "palaeontology", "LV.1987/42"))
	s.create("/v1/specimens", other("catalogue-number", "geology", "LV.1987/42"))
	s.create("/v1/specimens", object{"identifiers": array{object{"kind": "catalogue-number", "value": "LV.1987/42"}}})
}

// Whoever says of which specimens it is none has it registered; a specimen that a
// request registered stands in its answer, also in that of an amendment, which is
// not asked.
func TestDistinctFrom(t *testing.T) {
	t.Parallel()
	s := newService(t)
	skull := s.create("/v1/specimens", specimen("LV.1987/0042")).id()
	st := cleaningOf("LV.1987/42")
	st["specimen"].(object)["identifier"].(object)["distinctFrom"] = refs(uuid.NewString())
	s.try("/v1/treatments", st).wantProblem(409, "number-nearly-known")
	st["specimen"].(object)["identifier"].(object)["distinctFrom"] = refs(uuid.NewString(), skull)
	made := s.create("/v1/treatments", st)
	jaw := made.at("registered", 0, "id")
	if want := (array{object{"id": jaw, "number": "LV.1987/42", "href": "https://meniscus.example/v1/specimens/" + fmt.Sprint(jaw)}}); cmp.Diff(want, made.at("registered")) != "" || jaw == skull || jaw != made.at("statement", "specimen", "id") {
		t.Errorf("got %s, want a second specimen, named", made.body)
	}
	again := s.create("/v1/treatments", cleaningOf("LV.1987/42"))
	if again.at("registered") != nil || again.at("statement", "specimen", "id") != jaw {
		t.Errorf("got %s, want the known specimen, and nothing registered", again.body)
	}
	// A third spelling is asked about both; one of the two is not enough.
	third := cleaningOf("LV 1987 42")
	if got := s.try("/v1/treatments", third).wantProblem(409, "number-nearly-known"); len(got.at("candidates").([]any)) != 2 {
		t.Errorf("got %s, want two candidates", got.body)
	}
	third["specimen"].(object)["identifier"].(object)["distinctFrom"] = refs(skull)
	if got := s.try("/v1/treatments", third).wantProblem(409, "number-nearly-known"); got.at("candidates", 0, "id") != jaw || len(got.at("candidates").([]any)) != 1 {
		t.Errorf("got %s, want the one that nobody spoke of", got.body)
	}
	amended := s.amend(made, cleaningOf("LV-1987-42"))
	if amended.at("registered", 0, "number") != "LV-1987-42" {
		t.Errorf("got %s, want it registered and said", amended.body)
	}
	body := object{"areas": array{"skull/left-orbit"}, "date": object{"edtf": "2001"}, "reason": "Broke off.", "statement": specimen("LV.1987/00042")}
	s.split(skull, body).wantProblem(409, "number-nearly-known")
	body["distinctFrom"] = refs[any](skull, jaw, amended.at("registered", 0, "id"))
	s.split(skull, body).want(201)
}

// The same number again is a clash that the answer tells; beside numbers that are
// nearly the same nobody is asked then.
func TestTheSameNumberIsNotAsked(t *testing.T) {
	t.Parallel()
	s := newService(t)
	first := s.create("/v1/specimens", specimen("LV.1987/0042"))
	if first.at("findings") != nil {
		t.Errorf("got %s, want nothing odd", first.body)
	}
	near := s.distinct(specimen("LV.1987/42"), first.id())
	if near.at("findings", 0, "rule") != "number-near" || near.at("findings", 0, "records", 0, "id") != first.id() {
		t.Errorf("got %s, want the near number said", near.body)
	}
	same := s.create("/v1/specimens", specimen("LV.1987/0042"))
	for i, want := range []object{{"rule": "number-clash", "severity": "warn", "of": first.id()}, {"rule": "number-near", "severity": "info", "of": near.id()}} {
		got := object{"rule": same.at("findings", i, "rule"), "severity": same.at("findings", i, "severity"),
			"of": same.at("findings", i, "records", 0, "id")}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Errorf("finding %d of %s (-want +got):\n%s", i, same.body, diff)
		}
	}
}

// What was said before is answered and not asked again, although a number that is
// nearly its own came in between.
func TestReplayIsNotAsked(t *testing.T) {
	t.Parallel()
	s := newService(t)
	for name, identity := range map[string]object{
		"LV.1": {"source": object{"system": "catalogue", "recordId": "900"}},
		"LV.2": {"id": uuid.NewString()},
		"LV.3": {},
	} {
		body := object{"statement": specimen(name)}
		for member, v := range identity {
			body[member] = v
		}
		send := func() reply {
			if len(identity) == 0 {
				return s.do(http.MethodPost, "/v1/specimens", body, header{"Idempotency-Key", "one"})
			}
			return s.do(http.MethodPost, "/v1/specimens", body)
		}
		made := send().want(201)
		s.distinct(specimen(strings.ToLower(name)), made.id())
		s.amend(made, specimen(name+"/9")) // now only the near one has the number
		again := send()
		if again.want(201).id() != made.id() || again.header.Get("Idempotency-Replayed") != "true" {
			t.Errorf("%s: got %s, want the replay", name, again.body)
		}
	}
}

// Every line of a group whose number is nearly known is asked, with its own
// candidates, and so are two lines that are nearly each other's.
func TestGroupIsAskedLineByLine(t *testing.T) {
	t.Parallel()
	s := newService(t)
	skull, jaw := s.create("/v1/specimens", specimen("LV.1987/0042")).id(), s.create("/v1/specimens", specimen("LV.1987/0043")).id()
	request := object{"statement": cleaningOf("LV.1987/42"), "alsoOn": array{
		object{"specimen": numbered("LV.1987/0042")}, object{"specimen": numbered("LV.1987/43")}, object{"specimen": numbered("LV.1999/7")}, object{"specimen": numbered("lv 1999 7")}}}
	send := func() reply {
		return s.do(http.MethodPost, "/v1/group-treatments", request, header{"Idempotency-Key", uuid.NewString()})
	}
	got := send().wantProblem(409, "number-nearly-known")
	var told []string
	for i := range got.at("errors").([]any) {
		said := fmt.Sprint(got.at("errors", i, "pointer"))
		for _, candidate := range got.at("errors", i, "candidates").([]any) {
			said += " " + fmt.Sprint(candidate.(object)["id"])
		}
		told = append(told, said)
	}
	want := []string{"/statement/specimen/identifier " + skull, "/alsoOn/1/specimen/identifier " + jaw, "/alsoOn/3/specimen/identifier"}
	if !slices.Equal(told, want) || s.specimensHere() != 2 {
		t.Fatalf("got %q, want %q, and nothing recorded", told, want)
	}
	request["statement"].(object)["specimen"].(object)["identifier"].(object)["distinctFrom"] = refs(skull)
	request["alsoOn"].(array)[1].(object)["specimen"].(object)["identifier"].(object)["distinctFrom"] = refs(jaw)
	request["alsoOn"].(array)[3] = object{"specimen": numbered("LV.1999/7")}
	made := send().want(201)
	for i, number := range []any{"LV.1987/42", nil, "LV.1987/43", "LV.1999/7", "LV.1999/7"} {
		var registered any
		if made.at("items", i, "registered") != nil {
			registered = made.at("items", i, "registered", 0, "number")
		}
		if registered != number {
			t.Errorf("line %d: got %v registered, want %v", i, registered, number)
		}
	}
}

// A check on a number that is nearly known says so, and one on a number that is not
// known says that nothing was looked at.
func TestCheckSaysThatANumberIsNearlyKnown(t *testing.T) {
	t.Parallel()
	s := newService(t)
	skull := s.create("/v1/specimens", specimen("LV.1987/0042")).id()
	check := func(st object, says string) []any {
		t.Helper()
		got := s.do(http.MethodPost, "/v1/treatment-checks", object{"treatment": st}).want(200)
		if answer := got.at("answer").(string); !strings.HasPrefix(answer, says) {
			t.Errorf("got the answer %q, want it to begin with %q", answer, says)
		}
		return got.at("findings").([]any)
	}
	rules := func(findings []any) (rules []string) {
		for _, f := range findings {
			if rule := f.(object)["rule"].(string); strings.HasPrefix(rule, "number-") {
				rules = append(rules, rule)
			}
		}
		return rules
	}
	found := check(cleaningOf("LV.1987/42"), "This number is not registered and nearly known: LV.1987/0042 ")
	if got := rules(found); !slices.Equal(got, []string{"number-nearly-known"}) {
		t.Fatalf("got %v, want it nearly known", got)
	}
	i := slices.IndexFunc(found, func(f any) bool { return f.(object)["rule"] == "number-nearly-known" })
	f := found[i].(object)
	if f["severity"] != "warn" || idOf(f["records"].([]any)[0]) != skull ||
		!strings.Contains(f["sentence"].(string), "LV.1987/0042") || i > 0 {
		t.Errorf("got %v, want the specimen named, first of all", f)
	}
	if got := rules(check(cleaningOf("LV.1990/1"), "The number is not known here. Not blocked.")); !slices.Equal(got, []string{"number-not-known"}) {
		t.Errorf("got %v, want it not known", got)
	}
	if got := rules(check(cleaningOf("LV.1987/0042"), "Not blocked.")); len(got) != 0 {
		t.Errorf("got %v, want nothing about a known number", got)
	}
	if got := s.specimensHere(); got != 1 {
		t.Errorf("got %d specimens, want the one that was there", got)
	}
}

// A card whose number is nearly a registered one's is taken with a doubt, within
// its collection and kind, and not when it is sent again.
func TestImportDoubtsNearlyKnownNumbers(t *testing.T) {
	t.Parallel()
	s := newService(t)
	s.create("/v1/specimens", specimen("LV.1987/0042"))
	mapping := plainMapping()
	mapping["columns"] = append(mapping["columns"].(array), object{"name": "Collection", "field": "collection"})
	table := "Card,Number,Date,Collection\n1,LV.1987/42,1998,palaeontology\n2,LV.1987/42,1998,geology\n3,LV.1987/43,1998,palaeontology\n4,LV.1987/420,1998,palaeontology\n"
	for _, want := range []string{"4 read, 4 taken, 0 replayed, 1 doubtful, 0 refused", "4 read, 0 taken, 4 replayed, 0 doubtful, 0 refused"} {
		id := s.beginImport("cards", false, mapping)
		if got := lines(s.cards(id, table).want(200)); got != want {
			t.Errorf("got %s, want %s", got, want)
		}
		told := s.do(http.MethodGet, "/v1/imports/"+id+"/lines", nil).want(200)
		for _, line := range told.at("items").([]any) {
			if doubt := line.(object)["doubts"].([]any)[0].(object); line.(object)["line"] != 2.0 || doubt["code"] != "number-nearly-known" || !strings.Contains(doubt["detail"].(string), "LV.1987/0042") {
				t.Errorf("got %v, want the second line doubted", line)
			}
		}
	}
}

// Numbers that nobody should write are registered, told apart, and asked about like
// others; none is a fault of the service.
func TestOddNumbers(t *testing.T) {
	t.Parallel()
	s := newService(t)
	long := strings.Repeat("LV.1987/0042 ", 31)[:400]
	for _, pair := range [][2]string{
		{"./.", ". / ."}, {"000", "0"}, {"٠٠٤٢", "٤٢"}, {"ЛВ-17", "лв 017"}, {"LV-ЛВ-٤٢", "lv лв ٠٤٢"}, {"🦴 7", "7"}, {"🦴", "🦴 "},
		{"A.\u202e12\u202c", "A 12"}, {long, strings.ToUpper(long) + "/"},
	} {
		first := s.create("/v1/specimens", specimen(pair[0])).id()
		got := s.try("/v1/specimens", specimen(pair[1])).wantProblem(409, "number-nearly-known")
		if got.at("candidates", 0, "id") != first || len(got.at("candidates").([]any)) != 1 {
			t.Errorf("%q beside %q: got %s", pair[1], pair[0], got.body)
		}
		s.try("/v1/treatments", cleaningOf(pair[1])).wantProblem(409, "number-nearly-known")
		s.distinct(specimen(pair[1]), first)
	}
	for _, number := range []string{"..", "٤٣", "00", "лв 18", strings.Repeat("\ufdfa", 400)} {
		if number != "00" { // which is nearly 0
			s.create("/v1/specimens", specimen(number))
		}
	}
	s.try("/v1/specimens", specimen("\u200e\u200f")).want(422)
}

// What comes in a package is received, and what is restored is restored, although
// its number is nearly another's; the record says so afterwards.
func TestReceiptAndRestorationAreNotAsked(t *testing.T) {
	t.Parallel()
	s := newService(t)
	skull := s.create("/v1/specimens", specimen("LV.1987/0042")).id()
	second := s.distinct(specimen("LV.1987/42"), skull).id()
	hill := s.neighbour("Museum on the Hill")
	own := hill.create("/v1/specimens", specimen("lv 1987 42")).id()
	hill.receive(s.pack(skull)).want(201)
	read := hill.do(http.MethodGet, "/v1/specimens/"+skull, nil).want(200)
	if read.at("findings", 0, "rule") != "number-near" || read.at("findings", 0, "records", 0, "id") != own {
		t.Errorf("got %s, want the near number said", read.body)
	}
	s.seal()
	copied := s.emptied(whoRecorded(t, s.lines()))
	copied.restore(s.lines()).want(201)
	for _, id := range []string{skull, second} {
		copied.do(http.MethodGet, "/v1/specimens/"+id, nil).want(200)
	}
}

// A number that is new is told beside those that it is easily taken for, at most
// five, the nearest first; ordinary neighbours are not among them.
func TestResemblingNumbersAreTold(t *testing.T) {
	t.Parallel()
	s := newService(t)
	resembles := func(findings any) (told []string) {
		list, _ := findings.([]any)
		for _, f := range list {
			if f := f.(object); f["rule"] == "number-resembles" {
				told = append(told, strings.Fields(f["sentence"].(string))[1])
			}
		}
		return told
	}
	var ids []string
	for _, number := range []string{"BH 5050", "BH 5011", "BH 501", "BH 50100", "BH 5O10", "BH 50l0", "BH 5001", "BH 0510", "BH 5100", "HB 5010", "BH 5I00"} {
		made := s.create("/v1/specimens", specimen(number))
		ids = append(ids, made.id())
	}
	gone := s.create("/v1/specimens", specimen("BH 501O")).id()
	s.do(http.MethodPost, "/v1/records/"+gone+"/retraction", object{"reason": "Twice."}, anyTag).want(201)
	geology := specimen("BH 501o")
	geology["collection"] = "geology"
	s.create("/v1/specimens", geology)
	check := s.do(http.MethodPost, "/v1/treatment-checks?detail=full", object{"treatment": cleaningOf("BH 5010")}).want(200)
	made := s.create("/v1/treatments", cleaningOf("BH 5010"))
	want := []string{"50l0", "5O10", "5001", "5100", "5010"} // the last one is HB 5010
	for of, findings := range map[string]any{"the check": check.at("findings"), "the treatment": made.at("findings")} {
		if got := resembles(findings); !slices.Equal(got, want) {
			t.Errorf("%s: got %q, want %q", of, got, want)
		}
	}
	if made.at("findings", 0, "records", 0, "id") != ids[5] || made.at("findings", 0, "severity") != "info" {
		t.Errorf("got %s, want the specimen named", made.body)
	}
	if again := s.create("/v1/treatments", cleaningOf("BH 5010")); len(resembles(again.at("findings"))) != 0 {
		t.Errorf("got %s, want nothing of a number that is known", again.body)
	}
	near := s.do(http.MethodGet, "/v1/specimen-lookup?number=BH+5O5O", nil).want(200)
	if got := near.at("nearSpellings", 0, "number"); got != "BH 5050" || len(near.at("nearSpellings").([]any)) != 1 {
		t.Errorf("got %s, want the number with letters for zeros alone", near.body)
	}
}

// TestNearlyTheSameNumberAtOnce: of two requests that register nearly the same number at
// one moment one does, and the other is asked, whether a specimen is recorded, named by a
// treatment or stated by a source. The same number at one moment is one specimen to those
// that name it.
func TestNearlyTheSameNumberAtOnce(t *testing.T) {
	t.Parallel()
	s := newService(t)
	ways := map[string]func(recordID, number string) reply{
		"recorded": func(_, number string) reply { return s.try("/v1/specimens", statedAs(number)) },
		"named":    func(_, number string) reply { return s.try("/v1/treatments", cleaningOf(number)) },
		"stated": func(recordID, number string) reply {
			return s.says("specimen", recordID, statedAs(number))
		},
	}
	for name, send := range ways {
		for round := range 8 {
			numbers := []string{fmt.Sprintf("LV.%s.%d", name, round), fmt.Sprintf("lv %s %d", name, round)}
			replies := make([]reply, 2)
			var both sync.WaitGroup
			for i, number := range numbers {
				both.Go(func() { replies[i] = send(number, number) })
			}
			both.Wait()
			slices.SortFunc(replies, func(a, b reply) int { return a.status - b.status })
			replies[0].want(http.StatusCreated)
			replies[1].wantProblem(http.StatusConflict, "number-nearly-known")
		}
	}
	before := s.specimensHere()
	replies := make([]reply, 2)
	var both sync.WaitGroup
	for i := range replies {
		both.Go(func() { replies[i] = ways["named"]("", "LV.1999/1") })
	}
	both.Wait()
	one, two := replies[0].want(http.StatusCreated), replies[1].want(http.StatusCreated)
	if made := s.specimensHere() - before; made != 1 || one.at("statement", "specimen", "id") != two.at("statement", "specimen", "id") {
		t.Errorf("got %d specimens, want one for both treatments", made)
	}
}
