package httpapi_test

import (
	"fmt"
	"math/rand/v2"
	"net/http"
	"slices"
	"strings"
	"testing"
)

// sourceModel is what a record of a source is held against: its revisions, in the
// plainest words.
type sourceModel struct {
	revisions []sourceRevision
	lastSaid  int              // the revision that the source stated last, from 1; 0 before
	twin      []sourceRevision // of another record without a source under the same number; nil if there is none
}

type sourceRevision struct {
	act, words string
	gone       bool
}

// inForce is the last revision that is no redaction, from 1.
func (m *sourceModel) inForce() int {
	for n, r := range slices.Backward(m.revisions) {
		if r.act != "redacted" {
			return n + 1
		}
	}
	return 0
}

// say is what comes of what the source says, with the record's ETag or without.
func (m *sourceModel) say(words string, tagged bool) string {
	if m.lastSaid == 0 {
		return m.sayFirst(words, tagged)
	}
	stands := m.revisions[m.inForce()-1]
	alone, said := m.inForce() == m.lastSaid && !stands.gone, m.revisions[m.lastSaid-1]
	same, agreed := said.words == words && !said.gone, m.says(words)
	switch {
	case same && (alone || !tagged && !stands.gone):
		return "unchanged"
	case !alone && !tagged && !agreed:
		return "conflict"
	}
	m.add(sourceRevision{act: "amended", words: words})
	m.lastSaid = len(m.revisions)
	return "amended"
}

// says tells whether the record states these words.
func (m *sourceModel) says(words string) bool {
	stands := m.revisions[m.inForce()-1]
	return stands.act != "retracted" && !stands.gone && stands.words == words
}

// amend is the status of an amendment that somebody else makes.
func (m *sourceModel) amend(words string) int {
	if m.says(words) {
		return http.StatusOK
	}
	m.add(sourceRevision{act: "amended", words: words})
	return http.StatusCreated
}

// sayFirst is say where the source has no record yet. The revisions are those of a record
// that was here without a source, if one was; one without words says nothing but its number.
func (m *sourceModel) sayFirst(words string, tagged bool) string {
	is, carries := m.revisions, false
	if len(is) > 0 {
		stands := is[m.inForce()-1]
		carries = stands.act != "retracted" && !stands.gone
	}
	switch {
	case carries && m.twin != nil:
		return "ambiguous"
	case m.twin != nil:
		is, carries = m.twin, true
	}
	if !carries {
		if tagged {
			return "refused"
		}
		m.revisions, m.lastSaid = []sourceRevision{{act: "stated", words: words}}, 1
		return "made"
	}
	of := &sourceModel{revisions: is}
	if stands := is[of.inForce()-1].words; !tagged && stands != "" && stands != words {
		return "conflict"
	}
	m.revisions = append(slices.Clone(is), sourceRevision{act: "amended", words: words})
	m.lastSaid = len(m.revisions)
	return "adopted"
}

func (m *sourceModel) add(r sourceRevision) { m.revisions = append(m.revisions, r) }

// redact takes the words of all revisions, or of the first.
func (m *sourceModel) redact(all bool) {
	for n := range m.revisions {
		if all || n == 0 {
			m.revisions[n].gone = m.revisions[n].act != "redacted"
		}
	}
	// What the source said is known by the last of its revisions that has its words.
	m.add(sourceRevision{act: "redacted"})
}

// Whatever its source says, and whoever amends, retracts or redacts, a record stands as
// the model of it does: one that the source makes, and one that was registered before by
// a treatment or by hand, alone or with a twin.
func TestSourcesAgainstAModel(t *testing.T) {
	t.Parallel()
	s := newService(t)
	for seed := range uint64(60) {
		r := rand.New(rand.NewPCG(seed, 1))
		m, told := &sourceModel{}, []string{}
		number := fmt.Sprintf("LV.%d.s", seed)
		recordID, path := fmt.Sprint(seed), ""
		words := func() string { return string("abc"[r.IntN(3)]) }
		statement := func(w string) object { return object2(specimen(number), "remarks", w) }
		switch seed % 3 {
		case 1:
			path = "/v1/records/" + s.create("/v1/treatments", cleaningOf(number)).at("registered", 0, "id").(string)
			m.add(sourceRevision{act: "stated"})
		case 2:
			w := words()
			path = "/v1/records/" + s.create("/v1/specimens", statement(w)).id()
			m.add(sourceRevision{act: "stated", words: w})
			told = append(told, "registered as "+w)
		}
		for range 14 {
			w, tagged := words(), r.IntN(4) == 0
			if m.lastSaid == 0 && path != "" && m.twin == nil && r.IntN(8) == 0 {
				s.create("/v1/specimens", statement(w))
				m.twin = []sourceRevision{{act: "stated", words: w}}
				told = append(told, "twin "+w)
			}
			switch what := r.IntN(8); {
			case what < 5 || path == "":
				want := m.say(w, tagged)
				got := s.sayIn(r.IntN(2) == 0, recordID, statement(w), tagged)
				told = append(told, fmt.Sprintf("says %s (%v): %s", w, tagged, want))
				if got != want {
					t.Fatalf("seed %d: %s; got %s", seed, strings.Join(told, ", "), got)
				}
				if want == "made" || want == "adopted" {
					path = "/v1/records/" + s.do(http.MethodGet, sourcePath("specimen", recordID), nil).want(200).id()
				}
			case what == 5:
				want := m.amend(w)
				s.do(http.MethodPost, path+"/amendments", object{"reason": "Looked.", "statement": statement(w)}, anyTag).want(want)
				told = append(told, fmt.Sprint("amended to ", w, ": ", want))
			case what == 6 && m.revisions[len(m.revisions)-1].act != "retracted":
				s.do(http.MethodPost, path+"/retraction", object{"reason": "Twice."}, anyTag).want(201)
				m.add(sourceRevision{act: "retracted"})
				told = append(told, "retracted")
			case what == 7 && seed%2 == 0:
				body := object{"reason": "A name."}
				all := r.IntN(3) > 0
				if !all {
					body["revisions"] = array{1}
				}
				s.do(http.MethodPost, path+"/redaction", body, anyTag).want(201)
				m.redact(all)
				told = append(told, fmt.Sprintf("redacted (all %v)", all))
			}
			s.holds(t, m, path, seed, told)
		}
	}
}

// sayIn states how the record stands, alone or in a bulk request.
func (s *service) sayIn(bulk bool, recordID string, statement object, tagged bool) string {
	s.t.Helper()
	if bulk {
		i := item("specimen", recordID, statement)
		if tagged {
			i["ifMatch"] = "*"
		}
		told := s.saysAll(i)
		if told.outcomes() == "refused" && told.at("items", 0, "problem", "errors", 0, "code") == "source-ambiguous" {
			return "ambiguous"
		}
		return told.outcomes()
	}
	var headers []header
	if tagged {
		headers = append(headers, anyTag)
	}
	switch r := s.says("specimen", recordID, statement, headers...); r.status {
	case http.StatusConflict:
		return strings.TrimPrefix(r.at("code").(string), "source-")
	case http.StatusPreconditionFailed:
		return "refused"
	default:
		return fmt.Sprint(r.at("outcome"))
	}
}

// holds compares the record with the model of it.
func (s *service) holds(t *testing.T, m *sourceModel, path string, seed uint64, told []string) {
	t.Helper()
	if path == "" {
		return
	}
	now := s.do(http.MethodGet, path, nil).want(200)
	stands, words := m.revisions[m.inForce()-1], now.at("statement")
	want := any(nil)
	if stands.act != "retracted" && !stands.gone && stands.words != "" {
		want = stands.words
	}
	var got any
	if words != nil {
		got = now.at("statement", "remarks")
	}
	if now.at("revision") != float64(len(m.revisions)) || now.at("act") != m.revisions[len(m.revisions)-1].act || got != want {
		t.Fatalf("seed %d: %s; got %s, want revision %d saying %v", seed, strings.Join(told, ", "), now.body, len(m.revisions), want)
	}
}
