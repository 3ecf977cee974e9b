package httpapi_test

import (
	"log/slog"
	"strings"
	"testing"

	"github.com/google/uuid"

	"meniscus/internal/layers"
	"meniscus/internal/pgtest"
	"meniscus/internal/recording"
)

// library is what institutions know of materials here.
func (s *service) library() recording.Library {
	return recording.NewLibrary(s.store, slog.New(slog.DiscardHandler))
}

// verify gives everything that is not as it was recorded.
func (s *service) verify() []string {
	s.t.Helper()
	var wrong []string
	v := layers.Verifier{Store: s.store, Knowledge: s.library().Of, Report: func(sentence string) { wrong = append(wrong, sentence) }}
	found, err := v.Institution(s.t.Context(), s.inst)
	if err != nil {
		s.t.Fatal(err)
	}
	if found.Behind || found.Facts == 0 || found.Records == 0 || found.Wrong != len(wrong) {
		s.t.Fatalf("got %+v and %v, want everything looked at", found, wrong)
	}
	return wrong
}

// TestVerify: what the service wrote itself is as it was recorded; a fact, a
// projection and a kept row that somebody altered behind its back are each
// named.
func TestVerify(t *testing.T) {
	t.Parallel()
	a := newAwkward(t)
	again := a.create("/v1/specimens", specimen("LV.2001/0001"))
	a.do("POST", "/v1/records/"+again.id()+"/retraction", object{"reason": "Entered twice."}, header{"If-Match", again.header.Get("ETag")}, header{"Idempotency-Key", uuid.NewString()}).want(201)
	a.create("/v1/plans", object{"treatment": treatment(a.specimen, "coating", "2026-04")})
	secret := a.create("/v1/treatments", treatment(a.specimen, "cleaning", "2024")).id()
	a.do("POST", "/v1/records/"+secret+"/redaction", object{"reason": "Asked for."}, anyTag).want(201)
	a.refresh()
	if wrong := a.verify(); len(wrong) > 0 {
		t.Fatalf("got %v, want nothing wrong with what the service wrote", wrong)
	}
	super := pgtest.Pool(t, a.db.Super())
	for _, c := range []struct{ name, alter, want string }{
		{"a fact", `update entry set body = replace(body, '1955', '1956') where record_id = '` + a.lacquer + `'`, "do not give its digest"},
		{"a projection", `update treatment set action = 'cleaning' where id = '` + a.joint + `'`, "The projection treatment of the treatment " + a.joint},
		{"a child of a projection", `delete from treatment_area where treatment_id = '` + a.coat + `'`, "The projection treatment_area of the treatment " + a.coat},
		{"what a number is compared by", `update specimen_identifier set folded = 'lv 1987 43' where specimen_id = '` + a.specimen + `'`,
			"The projection specimen_identifier of the specimen " + a.specimen},
		{"what a redaction took", `insert into treatment_area (institution_id, treatment_id, path) values ('` + a.inst.String() + `', '` + secret + `', 'skull')`,
			"The projection treatment_area of the treatment " + secret},
		{"a kept row", `update layer_state set redissolvable = 'yes' where treatment_id = '` + a.joint + `'`, "The kept layer " + a.joint + "/0"},
		{"a kept row that is gone", `delete from layer_state where treatment_id = '` + a.number + `'`, "The layer " + a.number + "/0"},
		{"a sequence number", `delete from sequenced where seq = 3`, "some are missing"},
	} {
		if tag, err := super.Exec(t.Context(), c.alter); err != nil || tag.RowsAffected() == 0 {
			t.Fatalf("%s: altered %v, %v", c.name, tag, err)
		}
		found := false
		wrong := a.verify()
		for _, w := range wrong {
			found = found || strings.Contains(w, c.want)
		}
		if !found {
			t.Errorf("%s: got %v, want %q", c.name, wrong, c.want)
		}
	}
}

// TestLayersOfMergedRecords: two records that are one specimen have one stack;
// what is kept of it goes with the one that stands, and comes back when the
// merge is undone.
func TestLayersOfMergedRecords(t *testing.T) {
	t.Parallel()
	a := newAwkward(t)
	field := a.create("/v1/specimens", specimen("F-17"))
	coat := a.create("/v1/treatments", object{"specimen": object{"id": field.id()}, "action": "coating", "areas": object{"paths": array{"skull/jaw"}}, "dates": object{"edtf": "2020"},
		"materials": array{object{"used": object{"material": object{"id": "shellac", "solvents": array{object{"id": "ethanol"}}}}}}}).id()
	a.refresh()
	merged := a.do("POST", "/v1/specimens/"+field.id()+"/merge", object{"into": object{"id": a.specimen},
		"reason": "The field number of the same skull."}, header{"If-Match", field.header.Get("ETag")}).want(201)
	a.refresh()
	if got := reportRows(a.report(t, ""))[coat]; idOf(got["specimen"]) != a.specimen || got["role"] != "coating" {
		t.Errorf("merged: got %v, want the coat on the specimen that stands", got)
	}
	if wrong := a.verify(); len(wrong) > 0 {
		t.Errorf("merged: got %v, want nothing wrong", wrong)
	}
	a.do("POST", "/v1/specimens/"+field.id()+"/merge/undoing", object{"reason": "They are two."}, header{"If-Match", merged.header.Get("ETag")}).want(201)
	a.refresh()
	if got := reportRows(a.report(t, ""))[coat]; idOf(got["specimen"]) != field.id() {
		t.Errorf("undone: got %v, want the coat on its own specimen", got)
	}
	if wrong := a.verify(); len(wrong) > 0 {
		t.Errorf("undone: got %v, want nothing wrong", wrong)
	}
}
