package httpapi_test

import (
	"bytes"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"
)

// With the sender's key, a package is received as what the sender packed, and says so everywhere; one
// that was altered with all its digests, or that another signed, is refused and leaves nothing.
func TestAPackageIsProvedToBeTheSenders(t *testing.T) {
	t.Parallel()
	a := newService(t)
	skull, _, treated := authorisedPlan(a)
	pack, key := a.pack(skull), a.logKeys()[0]
	hill := a.neighbour("Museum on the Hill")
	receive := func(pack []byte, key string) reply {
		t.Helper()
		return hill.do(http.MethodPost, "/v1/specimen-receipts?verifier="+key, pack, asLines)
	}
	altered := forge(t, pack, func(_, words object) {
		if st, _ := words["statement"].(object); st["action"] == "removal" {
			st["remarks"] = "Never happened."
		}
	})
	signed := pack[bytes.Index(pack, []byte(`,"signed":`)):]
	lifted := slices.Concat(bytes.TrimSuffix(bytes.TrimSpace(altered), []byte("}}")), signed)
	for name, c := range map[string]struct {
		pack      []byte
		key, want string
	}{
		"altered, not signed":         {altered, key, "The package is not signed"},
		"altered, with the signature": {lifted, key, "what is signed is another package"},
		"with another museum's key":   {pack, hill.logKeys()[0], "the package says that it is from"},
		"with no key":                 {pack, "meniscus/nobody", "the sender's key cannot be read"},
	} {
		got := receive(c.pack, url.QueryEscape(c.key)).want(422)
		if got.at("code") != "package-not-proved" && got.at("errors", 0, "code") != "package-not-proved" ||
			!strings.Contains(strings.ToLower(string(got.body)), strings.ToLower(c.want)) {
			t.Errorf("%s: got %s, want %q", name, got.body, c.want)
		}
	}
	hill.do(http.MethodGet, "/v1/specimens/"+skull, nil).want(404)

	if got := receive(pack, key).want(201); got.at("proved") != "sender" { // its plus signs are spaces in a query
		t.Errorf("got %s, want it proved", got.body)
	}
	for path, said := range map[string]string{"/v1/treatments/" + treated: "The sender&#39;s key signed what came",
		"/v1/specimens/" + skull: "The sender&#39;s key signed what came"} {
		if from := hill.do(http.MethodGet, path, nil).want(200).at("receivedFrom").(object); from["proved"] != "sender" {
			t.Errorf("%s: got %v, want it proved", path, from)
		}
		if page := string(hill.as("text/html", path).want(200).body); !strings.Contains(page, said) {
			t.Errorf("%s: the page does not say that it was signed", path)
		}
	}
	if graph := string(hill.do(http.MethodGet, "/v1/treatments/"+treated+"/provenance",
		nil).want(200).body); !strings.Contains(graph, "signed by the sender") {
		t.Errorf("got %s, want it told as signed", graph)
	}
}
