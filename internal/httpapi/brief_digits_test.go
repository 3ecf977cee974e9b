package httpapi_test

import (
	"encoding/json"
	"math"
	"net/http"
	"regexp"
	"strings"
	"testing"
)

// Numbers in brief have at most six significant digits. Excepted are, by what they are: identifiers and
// dates, which are texts of their own form; counts, sequence numbers and sizes in bytes, which are whole;
// a value with its uncertainty beside it, which has the decimals of that one's second digit; and what the
// request said (under "request"), which is repeated as it was sent. Records themselves, with their
// coordinates and prices, are words as they were stated and are not asked here.
const mostBriefDigits = 6

var (
	// apart is what has a form of its own in a text: an address, an identifier, a date or time, a number of a
	// specimen.
	apart = regexp.MustCompile(`https?://\S+|[0-9a-fA-F]{8}-[0-9a-fA-F-]{27}|\d{4}-\d\d(-\d\d)?(T[0-9:.]+Z?)?|` +
		`[A-Z]+\.[\d./]+|\d+-\d+-\d\b`)
	numberSaid = regexp.MustCompile(`\d+(\.\d+)?`)
)

// significant counts the significant digits of a number as it is written.
func significant(written string) int {
	mantissa, _, _ := strings.Cut(strings.ToLower(strings.TrimPrefix(written, "-")), "e")
	digits := strings.TrimLeft(strings.ReplaceAll(mantissa, ".", ""), "0")
	if strings.Contains(mantissa, ".") {
		return len(digits)
	}
	return len(strings.TrimRight(digits, "0"))
}

// tooExact are the places below v with a number of more digits than a brief answer has.
func tooExact(at string, v any) (out []string) {
	switch v := v.(type) {
	case map[string]any:
		borne := -1 // decimals of the value that the uncertainty beside it bears
		if u, ok := v["uncertainty"].(map[string]any); ok {
			if expanded, err := u["expanded"].(json.Number).Float64(); err == nil && expanded > 0 {
				borne = max(0, 1-int(math.Floor(math.Log10(expanded))))
			}
		}
		for name, x := range v {
			value, is := x.(json.Number)
			switch {
			case name == "value" && is && borne >= 0:
				if _, decimals, _ := strings.Cut(value.String(), "."); len(decimals) > borne {
					out = append(out, at+"/value is "+value.String()+", and its uncertainty bears fewer digits")
				}
			case name != "request":
				out = append(out, tooExact(at+"/"+name, x)...)
			}
		}
	case []any:
		for _, x := range v {
			out = append(out, tooExact(at+"/-", x)...)
		}
	case json.Number:
		if strings.ContainsAny(v.String(), ".eE") && significant(v.String()) > mostBriefDigits {
			out = append(out, at+" is "+v.String())
		}
	case string:
		for _, n := range numberSaid.FindAllString(apart.ReplaceAllString(v, ""), -1) {
			if strings.Contains(n, ".") && significant(n) > mostBriefDigits {
				out = append(out, at+" says "+n+": "+v)
			}
		}
	}
	return out
}

// TestBriefAnswersAreAsExactAsTheyCanBe: every view, report and computation of the demo in brief, as JSON,
// text and table.
func TestBriefAnswersAreAsExactAsTheyCanBe(t *testing.T) {
	t.Parallel()
	s := newPastService(t)
	specimens, batches := s.loadDemo()
	s.refreshPast()
	asked := 0
	want := func(name string, body []byte) {
		asked++
		var answer any = string(body)
		if in := json.NewDecoder(strings.NewReader(string(body))); strings.HasPrefix(string(body), "{") {
			in.UseNumber()
			if err := in.Decode(&answer); err != nil {
				t.Fatal(err)
			}
		}
		for _, fault := range tooExact("", answer) {
			t.Errorf("%s: %s", name, fault)
		}
	}
	var paths []string
	for _, id := range specimens {
		for _, view := range []string{"present-state", "suitability", "travel-temperature", "removal-plan", "summary"} {
			paths = append(paths, "/v1/specimens/"+id+"/"+view)
		}
		listed := s.do(http.MethodGet, "/v1/specimens/"+id+"/treatments?limit=500", nil).want(200)
		for _, item := range objectsIn(listed.at("items")) {
			paths = append(paths, "/v1/treatments/"+item["id"].(string)+"/findings")
		}
	}
	for _, id := range batches {
		paths = append(paths, "/v1/batches/"+id+"/contents")
	}
	for _, path := range paths {
		want(path, s.do(http.MethodGet, path, nil).want(200).body)
		want(path+" as text", s.as(asText, path).want(200).body)
	}
	for _, path := range []string{"/v1/reports/reversible-treatments", "/v1/reports/suitability?analysis=radiocarbon"} {
		want(path, s.do(http.MethodGet, path, nil).want(200).body)
		want(path+" as a table", s.do(http.MethodGet, path, nil, header{"Accept", "text/csv"}).want(200).body)
	}
	for _, u := range contractsRequests(t) {
		if answers(t, u.path) {
			want(u.name, s.do(http.MethodPost, u.path, u.body).want(200).body)
			want(u.name+" as text", s.do(http.MethodPost, u.path, u.body, header{"Accept", asText}).want(200).body)
		}
	}
	if asked < 100 {
		t.Errorf("asked %d answers, want those of the museum", asked)
	}
}
