package httpapi_test

import (
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"meniscus/internal/pgtest"
)

// amend states a record anew and wants it done.
func (s *service) amend(of reply, statement object) reply {
	s.t.Helper()
	return s.restate(of, statement).want(201)
}

// restate states a record anew, maybe in the same words.
func (s *service) restate(of reply, statement object) reply {
	s.t.Helper()
	return s.do(http.MethodPost, "/v1/records/"+of.id()+"/amendments", object{"reason": "Misread.", "statement": statement},
		header{"If-Match", of.header.Get("ETag")})
}

// now seals and gives a moment between what was recorded and what will be: the
// first one after the last sequence number was given, by the database's clock.
func (s *service) now() string {
	s.t.Helper()
	s.seal()
	var last time.Time
	err := pgtest.Pool(s.t, s.db.Super()).QueryRow(s.t.Context(), `select max(sealed_at) from sequenced where institution_id = $1`, s.inst).Scan(&last)
	if err != nil {
		s.t.Fatal(err)
	}
	return url.QueryEscape(last.Add(time.Microsecond).UTC().Format(time.RFC3339Nano))
}

// What was believed at a moment stays readable after amendments, moves to
// another specimen, and retractions.
func TestBelievedAt(t *testing.T) {
	t.Parallel()
	s := newService(t)
	before := s.now()
	skull, jaw := s.create("/v1/specimens", specimen("LV.30")).id(), s.create("/v1/specimens", specimen("LV.31")).id()
	first := s.create("/v1/treatments", treatment(skull, "cleaning", "2001"))
	second := s.create("/v1/treatments", treatment(skull, "cleaning", "1999"))
	atFirst := s.now()
	moved := s.amend(first, treatment(jaw, "cleaning", "2002"))
	atMove := s.now()
	s.do(http.MethodPost, "/v1/records/"+second.id()+"/retraction", object{"reason": "Twice."}, header{"If-Match", second.header.Get("ETag")}).want(201)
	third := s.create("/v1/treatments", treatment(skull, "cleaning", "2000"))
	atEnd := s.now()

	list := func(specimen, at string) []string {
		page := s.do(http.MethodGet, "/v1/specimens/"+specimen+"/treatments?believedAt="+at, nil).want(200)
		if page.at("asOf", "sequence") == nil {
			t.Errorf("no sequence number is named: %s", page.body)
		}
		return page.ids()
	}
	for _, row := range []struct {
		specimen, at string
		want         []string
	}{
		{skull, before, nil},
		{skull, atFirst, []string{second.id(), first.id()}},
		{jaw, atFirst, nil},
		{skull, atMove, []string{second.id()}},
		{jaw, atMove, []string{first.id()}},
		{skull, atEnd, []string{third.id()}},
	} {
		if got := list(row.specimen, row.at); !slices.Equal(got, row.want) {
			t.Errorf("specimen %s: got %v, want %v", row.specimen, got, row.want)
		}
	}

	path := "/v1/records/" + first.id() + "?believedAt="
	s.do(http.MethodGet, path+before, nil).wantProblem(404, "not-recorded-then")
	then := s.do(http.MethodGet, path+atFirst, nil).want(200)
	if then.at("revision") != 1.0 || then.at("sequence") == nil || then.at("statement", "dates", "edtf") != "2001" {
		t.Errorf("got %s, want the first revision with its sequence number", then.body)
	}
	if later := s.do(http.MethodGet, path+atEnd, nil).want(200); later.at("revision") != moved.at("revision") {
		t.Errorf("got %s, want the second revision", later.body)
	}
	s.do(http.MethodGet, path+"yesterday", nil).want(400)
	s.do(http.MethodGet, strings.Replace(path, first.id(), "0193a5b4-7c1e-7d2f-9a64-3c2f1f0f7aaa", 1)+atEnd, nil).want(404)
}

// Words that were redacted since are not shown, whatever the moment.
func TestBelievedAtKeepsRedactedWordsAway(t *testing.T) {
	t.Parallel()
	s := newService(t)
	skull := s.create("/v1/specimens", specimen("LV.32")).id()
	st := treatment(skull, "cleaning", "2001")
	st["remarks"] = "A private remark."
	made := s.create("/v1/treatments", st)
	at := s.now()
	s.do(http.MethodPost, "/v1/records/"+made.id()+"/redaction", object{"reason": "Asked for."}, header{"If-Match", made.header.Get("ETag")}).want(201)
	s.seal()
	for _, path := range []string{"/v1/records/" + made.id(), "/v1/specimens/" + skull + "/treatments"} {
		if got := s.do(http.MethodGet, path+"?believedAt="+at, nil).want(200); strings.Contains(string(got.body), "private") || !strings.Contains(string(got.body), made.id()) {
			t.Errorf("%s: got %s, want the record without its words", path, got.body)
		}
	}
}

// The list is by what is known of the date, page by page, now and then.
func TestTreatmentsOfASpecimenAreInTheOrderOfDates(t *testing.T) {
	t.Parallel()
	s := newService(t)
	skull := s.create("/v1/specimens", specimen("LV.33")).id()
	for _, date := range []string{"2001", "195X", "2001-05", "", "../1970", "1998~", "2001"} {
		st := treatment(skull, "cleaning", date)
		if date == "" {
			st["dates"] = object{"answer": "unknown"}
		}
		s.create("/v1/treatments", st)
	}
	at := s.now()
	for _, extra := range []string{"", "&believedAt=" + at} {
		var got []string
		for path := "/v1/specimens/" + skull + "/treatments?limit=2" + extra; path != ""; {
			page := s.do(http.MethodGet, path, nil).want(200)
			for i := range page.at("items").([]any) {
				date, _ := page.at("items", i, "statement", "dates", "edtf").(string)
				got = append(got, date)
			}
			path = ""
			if next, more := page.at("next").(object); more {
				path = strings.TrimPrefix(next["href"].(string), "https://meniscus.example")
			}
		}
		if want := "195X 1998~ 2001 2001 2001-05  ../1970"; strings.Join(got, " ") != want {
			t.Errorf("%q: got %q, want %q", extra, strings.Join(got, " "), want)
		}
	}
	s.do(http.MethodGet, "/v1/specimens/"+skull+"/treatments?cursor=AAAA", nil).want(400)
	s.do(http.MethodGet, "/v1/specimens/"+skull+"/treatments?cursor=f_______________________________", nil).want(400)
}
