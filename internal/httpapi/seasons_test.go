package httpapi_test

import (
	"net/http"
	"strings"
	"testing"

	"github.com/google/uuid"

	"meniscus/internal/edtf"
	"meniscus/internal/postgres"
)

// TestSeasonsOfAnInstitution: where it says whose seasons it means, a season is recorded as the
// months that it has there, by every way in which a record is made; else it stays a season, which
// may be that of either half of the earth.
func TestSeasonsOfAnInstitution(t *testing.T) {
	t.Parallel()
	s := newService(t)
	for _, c := range []struct {
		half                                edtf.Hemisphere
		months, earliest, latest, otherWise string
	}{
		{"", "1962-22", "1962-06-01", "1963-02-28", "1962-21"},
		{edtf.Southern, "1962-12/1963-02", "1962-12-01", "1963-02-28", "1962-09/1962-11"},
		{edtf.Northern, "1962-06/1962-08", "1962-06-01", "1962-08-31", "1962-03/1962-05"},
	} {
		m := s.neighbour("Museum of the " + string(c.half) + " sky")
		if err := postgres.StateSeasons(t.Context(), s.db.Owner(), m.inst, c.half); err != nil {
			t.Fatal(err)
		}
		if got := m.do(http.MethodGet, "/v1/institution", nil).want(200).at("seasons"); got != nil && got != string(c.half) {
			t.Errorf("the institution says %v, want %q", got, c.half)
		}
		says := func(way string, got any, want string) {
			if got != want {
				t.Errorf("%q, %s: got %v, want %s", c.half, way, got, want)
			}
		}
		bone := m.create("/v1/specimens", specimen("SE.1")).id()
		made := m.create("/v1/treatments", treatment(bone, "coating", "1962-22"))
		says("a record", made.at("statement", "dates", "edtf"), c.months)
		patched := m.do(http.MethodPost, "/v1/records/"+made.id()+"/amendments", object{"reason": "Another card.",
			"statement": object{"dates": object{"edtf": "1962-21"}}}, anyTag, asPatch).want(201)
		says("a patch", patched.at("statement", "dates", "edtf"), c.otherWise)
		group := object{"statement": treatment(bone, "cleaning", "1962-22"),
			"alsoOn": array{object{"specimen": object{"id": m.create("/v1/specimens", specimen("SE.2")).id()}}}}
		both := m.do(http.MethodPost, "/v1/group-treatments", group, header{"Idempotency-Key", "seasons"}).want(201)
		says("a group", both.at("items", 1, "statement", "dates", "edtf"), c.months)
		asked := object{"statement": treatment(bone, "filling", "1962-22"), "source": object{"system": "catalogue", "recordId": "1"}}
		stated := m.do(http.MethodPost, "/v1/treatments", asked).want(201)
		says("a source", stated.at("statement", "dates", "edtf"), c.months)
		if again := m.do(http.MethodPost, "/v1/treatments", asked); again.status != 200 && again.status != 201 ||
			again.at("id") != stated.at("id") {
			t.Errorf("%q: a source's statement sent again: %d %s", c.half, again.status, again.body)
		}
		m.seal()
		for _, item := range objectsIn(m.do(http.MethodGet, "/v1/reports/reversible-treatments", nil).want(200).at("items")) {
			if idOf(item["treatment"]) == stated.at("id") {
				dates := item["dates"].(object)
				says("the report", dates["earliest"], c.earliest)
				says("the report", dates["latest"], c.latest)
			}
		}
		mapping := plainMapping()
		mapping["dates"] = array{"edtf", "english-words"}
		job := m.beginImport("drawer", false, mapping)
		read := m.cards(job, "Card,Number,Date\n1,SE.9,1962-22\n2,SE.9,summer 1962\n").want(200)
		if read.at("taken") == 0.0 {
			t.Fatalf("got %s, want cards taken", read.body)
		}
		list := string(m.do(http.MethodGet, "/v1/treatments?limit=100", nil).want(200).body)
		if n := strings.Count(list, `"edtf":"`+c.months+`"`); n < 4 {
			t.Errorf("%q: got %d dates of %s, want those of the cards too: %s", c.half, n, c.months, list)
		}
	}
	if err := postgres.StateSeasons(t.Context(), s.db.Owner(), uuid.New(), edtf.Southern); err == nil {
		t.Error("got the seasons of no institution stated")
	}
}

// A set of dates is refused with a sentence about sets.
func TestASetOfDatesIsRefusedAsOne(t *testing.T) {
	t.Parallel()
	s := newService(t)
	bone := s.create("/v1/specimens", specimen("SET.1")).id()
	for _, set := range []string{"[1970,1975]", "{1970,1971}", "[1970..1975]"} {
		got := s.do(http.MethodPost, "/v1/treatments", object{"statement": treatment(bone, "coating", set)},
			header{"Idempotency-Key", set})
		if got.want(422); !strings.Contains(string(got.body), "Sets of dates, of which one or all are meant") {
			t.Errorf("%s: got %s", set, got.body)
		}
	}
}
