package publish

import (
	"net/url"
	"regexp"
	"strings"

	"github.com/google/uuid"
)

// doiPattern takes a DOI, bare or as a web address.
var doiPattern = regexp.MustCompile(`^(?:https?://(?:dx\.)?doi\.org/|doi:)?(10\.[0-9]{4,9}(?:\.[0-9]+)*/\S+)$`)

// arkPattern takes an ARK in its new and its old form.
var arkPattern = regexp.MustCompile(`^(?:https?://[^/]+/)?ark:/?([0-9bcdfghjkmnpqrstvwxz]+/[0-9A-Za-z_=~*+@$%./-]+)$`)

// elsewhere gives the IRIs by which the specimen is known elsewhere: those of its
// globally unique identifiers. A catalogue number is not one, and is never
// parsed.
func (s Specimen) elsewhere() []any {
	var found []any
	for _, id := range s.Identifiers {
		if iri := globalIRI(id); iri != "" {
			found = append(found, iri)
		}
	}
	return found
}

func globalIRI(id Identifier) string {
	switch id.Kind {
	case "doi", "igsn":
		if m := doiPattern.FindStringSubmatch(id.Value); m != nil {
			return webIRI("https://doi.org/" + m[1])
		}
	case "ark":
		if m := arkPattern.FindStringSubmatch(id.Value); m != nil {
			return "ark:" + m[1]
		}
	case "guid":
		if u, err := uuid.Parse(id.Value); err == nil {
			return u.URN()
		}
		return webIRI(id.Value)
	}
	return ""
}

// webIRI gives a web address that linked data can use, or "".
func webIRI(text string) string {
	u, err := url.Parse(text)
	if err != nil || u.Scheme != "https" && u.Scheme != "http" || u.Host == "" ||
		strings.ContainsAny(text, "<>\"{}|\\^` ") {
		return ""
	}
	return text
}
