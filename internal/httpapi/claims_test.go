package httpapi_test

import (
	"encoding/hex"
	"encoding/json"
	"fmt"
	"net/http"
	"os"
	"strings"
	"testing"

	"github.com/google/uuid"

	"meniscus/internal/ledger"
	"meniscus/internal/pgtest"
)

// forge alters the lines of a package as somebody who means ill would: digests
// and the end are made to fit. The first line is altered with nil words.
func forge(t *testing.T, pack []byte, alter func(line, words object)) []byte {
	t.Helper()
	whole := strings.SplitAfter(string(pack), "\n")
	lines := whole[:len(whole)-2] // the end, and the nothing after it
	for i := range lines {
		var line object
		if err := json.Unmarshal([]byte(lines[i]), &line); err != nil {
			t.Fatal(err)
		}
		words, _ := line["body"].(object)
		alter(line, words)
		if words, has := line["body"].(object); has {
			nonce, err := hex.DecodeString(line["nonce"].(string))
			if err != nil {
				t.Fatal(err)
			}
			line["digest"] = fmt.Sprintf("%x", ledger.Digest(nonce, encoded(words)))
		}
		lines[i] = string(encoded(line)) + "\n"
	}
	// The first line, which is the package's own, is no entry.
	return []byte(strings.Replace(string(sealedAgain(lines)), fmt.Sprintf(`"entries":%d`, len(lines)), fmt.Sprintf(`"entries":%d`, len(lines)-1), 1))
}

// authorisedPlan is a specimen with a label that a plan and a treatment take
// off, both authorised, and a departure that was approved.
func authorisedPlan(s *service) (skull, plan, treated string) {
	skull = s.create("/v1/specimens", specimen("LV.30")).id()
	label := treatment(skull, "coating", "2001")
	label["materials"] = array{object{"used": object{"material": object{"id": "ethyl-methacrylate-methyl-acrylate-copolymer"}}, "role": "label-base"}}
	base := s.create("/v1/treatments", label).id()
	given := object{"given": object{"by": object{"name": "Nadia Okeke"}, "date": object{"edtf": "2024-03"}, "class": "single"}}
	proposed := treatment(skull, "coating", "2026-04")
	proposed["authorisation"] = given
	plan = s.create("/v1/plans", object{"treatment": proposed}).id()
	s.do(http.MethodPost, "/v1/plans/"+plan+"/authorisation", object{"class": "single"}, anyTag).want(201)
	removal := treatment(skull, "removal", "2024-05")
	removal["removal"] = object{"treatments": array{object{"id": base}}, "left": "reduced"}
	removal["plan"], removal["authorisation"] = object{"id": plan}, given
	removal["deviations"] = array{object{"what": "Ethanol in the place of acetone.", "approval": given}}
	removal["people"] = array{object{"person": object{"name": "Nadia Okeke"}, "part": "authorised"}}
	return skull, plan, s.create("/v1/treatments", removal).id()
}

func (s *service) authorisedPlans() []string {
	s.t.Helper()
	return s.do(http.MethodGet, "/v1/plans?authorised=true", nil).want(200).ids()
}

func (s *service) gaps(of, rule string) int {
	s.t.Helper()
	n := 0
	for _, g := range s.do(http.MethodGet, "/v1/records/"+of+"/completeness", nil).want(200).at("missing").(array) {
		if g.(object)["rule"] == rule {
			n++
		}
	}
	return n
}

func (s *service) findingsBy(of, rule string) int {
	s.t.Helper()
	return strings.Count(string(s.do(http.MethodGet, of+"/findings?detail=full", nil).want(200).body), `"`+rule+`"`)
}

// A package that somebody else wrote is told as what it says, with what was
// proved of it: nothing. The words may be anybody's.
func TestAForgedPackageClaimsAndProvesNothing(t *testing.T) {
	t.Parallel()
	a := newService(t)
	skull, _, treated := authorisedPlan(a)
	hill := a.neighbour("Museum on the Hill")
	pack := forge(t, a.pack(skull), func(_, words object) {
		if st, _ := words["statement"].(object); st["action"] == "removal" {
			st["remarks"], st["authorisation"].(object)["given"].(object)["class"] = "Never happened.", "emergency"
		}
	})
	got := hill.receive(pack).want(201)
	if got.at("proved") != "nothing" || got.at("authorisations") != 3.0 || got.at("institution") != a.inst.String() {
		t.Errorf("got %s, want what it claims, that nothing was proved, and the three authorisations in it", got.body)
	}
	for _, path := range []string{"/v1/treatments/" + treated, "/v1/records/" + treated, "/v1/records/" + treated + "/revisions/1", "/v1/specimens/" + skull} {
		if from := hill.do(http.MethodGet, path, nil).want(200).at("receivedFrom").(object); from["proved"] != "nothing" || from["institution"] != a.inst.String() {
			t.Errorf("%s: got %v, want what the sender claims, and what was proved", path, from)
		}
	}
	const said = "Nothing of that was proved here, and an authorisation in it is the sender&#39;s"
	for path, times := range map[string]int{"/v1/treatments/" + treated: 1, "/v1/specimens/" + skull: 1, "/v1/specimens/" + skull + "/sheet": 3} {
		if page := string(hill.as("text/html", path).want(200).body); strings.Count(page, said) != times {
			t.Errorf("%s: it is said %d times that nothing was proved, want %d", path, strings.Count(page, said), times)
		}
		if page := string(a.as("text/html", path).want(200).body); strings.Contains(page, said) {
			t.Errorf("%s: it is said of what was recorded here", path)
		}
	}
	for _, path := range []string{"/v1/treatments/" + treated + "/provenance", "/v1/specimens/" + skull + "/provenance"} {
		if graph := string(hill.do(http.MethodGet, path, nil).want(200).body); !strings.Contains(graph, "received, as the sender says from Museum of the Lower Valley; nothing was proved") {
			t.Errorf("%s: got %s, want it told as received", path, graph)
		}
	}
}

// Authorisations in a package authorise nothing here, whatever the key may do
// itself: not the plan, not in checks, not in completeness, not in what is
// rebuilt, exported and restored, and not from what remains of erased words.
func TestWhatIsReceivedAuthorisesNothing(t *testing.T) {
	t.Parallel()
	a := newService(t)
	skull, plan, treated := authorisedPlan(a)
	a.refresh()
	gone := a.create("/v1/plans", object{"treatment": treatment(skull, "cleaning", "2026")}).id()
	cleaned := treatment(skull, "cleaning", "2026")
	cleaned["plan"] = object{"id": gone}
	a.create("/v1/treatments", cleaned)
	a.do(http.MethodPost, "/v1/plans/"+gone+"/authorisation", object{"class": "single"}, anyTag).want(201)
	a.do(http.MethodPost, "/v1/records/"+gone+"/redaction", object{"reason": "A name."}, anyTag).want(201)
	if len(a.authorisedPlans()) != 1 || a.gaps(treated, "consent") != 0 || a.findingsBy("/v1/treatments/"+treated, "label-removal-without-approval") != 0 {
		t.Fatal("the plan is not authorised where it was recorded; there is nothing to try")
	}
	remaining := forge(t, a.pack(skull), func(line, _ object) {
		if remains, has := line["remains"].(object); has && line["record"] == gone {
			remains["authorised"], remains["retracted"] = true, false
		}
	})
	for _, pack := range [][]byte{a.pack(skull), remaining} {
		hill := a.neighbour("Museum on the Hill")
		hill.receive(pack).want(201)
		hill.refresh()
		if got := hill.authorisedPlans(); len(got) != 0 {
			t.Errorf("got the plans %v authorised by somebody else's word", got)
		}
		if got := hill.do(http.MethodGet, "/v1/plans/"+plan, nil).want(200); got.at("statement", "authorisation", "given") == nil {
			t.Errorf("got %s, want what the sender says kept", got.body)
		}
		if hill.gaps(treated, "consent") != 1 || hill.gaps(treated, "approval") != a.gaps(treated, "approval")+1 {
			t.Error("completeness counts the sender's authorisation as consent that can be shown here")
		}
		if hill.findingsBy("/v1/treatments/"+treated, "label-removal-without-approval") != 1 {
			t.Error("the check of the removal counts the sender's authorisation")
		}
		if wrong := hill.verify(); len(wrong) > 0 {
			t.Errorf("got %v, want nothing wrong", wrong)
		}
		// Whoever may authorise here does so anew.
		hill.do(http.MethodPost, "/v1/plans/"+plan+"/authorisation", object{"class": "single"}, anyTag).want(201)
		if got := hill.authorisedPlans(); len(got) != 1 || got[0] != plan {
			t.Errorf("got %v, want the plan that was authorised here", got)
		}
	}
}

// What arrives through a copy of the whole record is not authorised either.
func TestAReceivedPlanIsRestoredAsReceived(t *testing.T) {
	t.Parallel()
	a := newService(t)
	skull, _, _ := authorisedPlan(a)
	hill := a.neighbour("Museum on the Hill")
	hill.receive(a.pack(skull)).want(201)
	hill.seal()
	lines := hill.lines()
	copied := hill.emptied(whoRecorded(t, lines))
	copied.restore(lines).want(201)
	if got := copied.authorisedPlans(); len(got) != 0 {
		t.Errorf("got the plans %v authorised, want none", got)
	}
	if got := a.authorisedPlans(); len(got) != 1 {
		t.Errorf("got %v at home, want the plan", got)
	}
}

// A sender cannot say what was proved, here or on the way, nor what the contract
// does not take.
func TestAPackageIsHeldAgainstTheContract(t *testing.T) {
	t.Parallel()
	a := newService(t)
	skull, _, treated := authorisedPlan(a)
	pack := a.pack(skull)
	from := object{"institution": uuid.NewString(), "name": "House by the Lake", "sequence": 1, "entry": uuid.NewString(), "revision": 1,
		"recordedAt": "2020-01-01T00:00:00Z", "recordedBy": uuid.NewString(), "digest": strings.Repeat("ab", 32), "proved": "nothing"}
	with := func(name string, value any) object {
		copied := object{name: value}
		for k, v := range from {
			if k != name {
				copied[k] = v
			}
		}
		return copied
	}
	on := func(change func(line, words object)) []byte {
		return forge(t, pack, func(line, words object) {
			if line["record"] == treated {
				change(line, words)
			}
		})
	}
	for name, forged := range map[string][]byte{
		"no name":                            on(func(_, w object) { w["receivedFrom"] = with("name", "") }),
		"a name of two lines":                on(func(_, w object) { w["receivedFrom"] = with("name", "Museum\nof Lies") }),
		"a name that never ends":             on(func(_, w object) { w["receivedFrom"] = with("name", strings.Repeat("x", 100_000)) }),
		"no digest":                          on(func(_, w object) { w["receivedFrom"] = with("digest", "ab") }),
		"a sequence number before the first": on(func(_, w object) { w["receivedFrom"] = with("sequence", -1) }),
		"an empty reason":                    on(func(_, w object) { w["reason"] = "" }),
		"a source without a name":            on(func(l, _ object) { l["source"] = object{"system": "", "recordId": "1"} }),
		"a sender without a name": forge(t, pack, func(line, _ object) {
			if first, is := line["package"].(object); is {
				first["name"] = ""
			}
		}),
	} {
		hill := a.neighbour("Museum on the Hill")
		if got := hill.receive(forged); got.status != 422 {
			t.Errorf("%s: got %d, want 422: %s", name, got.status, got.body)
		}
		if left := hill.rowsOf(t, "specimen"); left != "" {
			t.Errorf("%s: this was left: %s", name, left)
		}
	}
	hill := a.neighbour("Museum on the Hill")
	hill.receive(on(func(_, w object) { w["receivedFrom"] = with("proved", "everything") })).want(201)
	if got := hill.do(http.MethodGet, "/v1/treatments/"+treated, nil).want(200); got.at("receivedFrom", "name") != "House by the Lake" ||
		got.at("receivedFrom", "proved") != "nothing" || got.at("receivedFrom", "via", 0, "institution") != a.inst.String() {
		t.Errorf("got %s, want the first one and who passed it on", got.body)
	}
}

// A package adds nothing to what it does not hold: another specimen's history,
// another batch's account.
func TestAPackageSpeaksOfItsOwnRecords(t *testing.T) {
	t.Parallel()
	a := newService(t)
	skull, plan, treated := authorisedPlan(a)
	batch := a.create("/v1/batches", object{"code": "B-1", "kind": "solution"}).id()
	change := a.create("/v1/amount-changes", changeOf(batch)).id()
	used := treatment(skull, "consolidation", "2020")
	used["materials"] = array{object{"used": object{"batch": object{"id": batch}}}}
	a.create("/v1/treatments", used)
	gone := a.create("/v1/treatments", treatment(skull, "cleaning", "2002")).id()
	a.do(http.MethodPost, "/v1/records/"+gone+"/redaction", object{"reason": "A name."}, anyTag).want(201)
	pack := a.pack(skull)
	hill := a.neighbour("Museum on the Hill")
	theirs, jar := hill.create("/v1/specimens", specimen("H.1")).id(), hill.create("/v1/batches", object{"code": "H", "kind": "solution"}).id()
	in := func(record string, change func(line, statement object)) []byte {
		return forge(t, pack, func(line, words object) {
			if line["record"] == record {
				st, _ := words["statement"].(object)
				change(line, st)
			}
		})
	}
	for name, forged := range map[string][]byte{
		"a treatment of theirs": in(treated, func(_, st object) { st["specimen"] = object{"id": theirs} }),
		"one joined to theirs":  in(treated, func(_, st object) { st["joinedTo"] = object{"id": theirs} }),
		"a plan for theirs":     in(plan, func(_, st object) { st["treatment"].(object)["specimen"] = object{"id": theirs} }),
		"a change of theirs":    in(change, func(_, st object) { st["batch"] = object{"id": jar} }),
		"a merge into theirs":   forge(t, pack, func(line, words object) { mergeInto(line, words, skull, theirs) }),
		"what remains of one of theirs": in(gone, func(line, _ object) {
			if remains, has := line["remains"].(object); has {
				remains["specimen_id"] = theirs
			}
		}),
	} {
		if got := hill.receive(forged).want(422); got.at("errors", 0, "code") != "record-missing" {
			t.Errorf("%s: got %s, want it refused", name, got.body)
		}
	}
	if got := hill.do(http.MethodGet, "/v1/specimens/"+theirs+"/treatments", nil).want(200).ids(); len(got) != 0 {
		t.Errorf("got %v on another specimen, want nothing", got)
	}
	for _, nonsense := range []any{"x", nil, object{}, array{1}} { // what remains is told to the database
		hill.receive(in(gone, func(line, _ object) {
			if remains, has := line["remains"].(object); has {
				remains["revision"] = nonsense
			}
		})).want(422)
	}
}

func mergeInto(line, words object, specimen, into string) {
	if line["record"] == specimen && words != nil {
		words["mergedInto"] = into
	}
}

// Plans that were received before this was looked at lose the authorisation that
// others gave them, and no others do.
func TestPlansReceivedEarlierAreNotAuthorised(t *testing.T) {
	t.Parallel()
	a := newService(t)
	skull, plan, _ := authorisedPlan(a)
	hill := a.neighbour("Museum on the Hill")
	hill.receive(a.pack(skull)).want(201)
	super := pgtest.Pool(t, a.db.Super())
	if _, err := super.Exec(t.Context(), `update plan set authorised = true where institution_id = $1`, hill.inst); err != nil {
		t.Fatal(err)
	}
	if got := hill.authorisedPlans(); len(got) != 1 || got[0] != plan {
		t.Fatalf("got %v, want the plan as it was taken before", got)
	}
	sql, err := os.ReadFile("../../migrations/00121_received_plans.sql")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := super.Exec(t.Context(), string(sql)); err != nil {
		t.Fatal(err)
	}
	if here, home := hill.authorisedPlans(), a.authorisedPlans(); len(here) != 0 || len(home) != 1 {
		t.Errorf("got %v here and %v at home, want none and the one", here, home)
	}
}
