package publish

import (
	_ "embed"
	"strings"
	"sync"
)

// Term is one term of the service's own vocabulary.
type Term struct {
	Name       string
	Sort       string // a list of the record, or property or class
	Label      string
	Definition string
	// Match is exact or broad where another vocabulary has a similar concept at
	// MatchIRI; Evidence is the source of the match. No match was read at the
	// other vocabulary itself, and readers are told so.
	Match    string
	MatchIRI string
	Evidence string
}

//go:embed data/terms.tsv
var termRows string

// terms are all terms, in the order in which the vocabulary shows them.
var terms = sync.OnceValue(func() []Term {
	lines := strings.Split(strings.TrimSuffix(termRows, "\n"), "\n")[1:]
	list := make([]Term, len(lines))
	for i, line := range lines {
		c := strings.Split(line, "\t")
		list[i] = Term{Name: c[0], Sort: c[1], Label: c[2], Definition: c[3], Match: c[4], MatchIRI: c[5], Evidence: c[6]}
	}
	return list
})

var termsByName = sync.OnceValue(func() map[string]Term {
	byName := map[string]Term{}
	for _, t := range terms() {
		byName[t.Name] = t
	}
	return byName
})

// FindTerm finds a term by its name.
func FindTerm(name string) (Term, bool) {
	t, ok := termsByName()[name]
	return t, ok
}

// TermLabel is a term's label as a sentence begins with it.
func TermLabel(list, word string) string { return capital(termLabel(list, word)) }

// termLabel is a term's label, or the word itself if the vocabulary does not have it.
func termLabel(list, word string) string {
	if t, ok := termsByName()[list+"-"+word]; ok {
		return t.Label
	}
	return spaced(word)
}

// unconfirmed is said wherever a concept of another vocabulary is named.
const unconfirmed = "unconfirmed at source"

// vocabularyContext is the context of the vocabulary's documents.
func vocabularyContext() node {
	return node{
		"@version": 1.1,
		"skos":     "http://www.w3.org/2004/02/skos/core#", "rdf": "http://www.w3.org/1999/02/22-rdf-syntax-ns#",
		"rdfs": "http://www.w3.org/2000/01/rdf-schema#",
		"id":   "@id", "type": "@type", "graph": "@graph",
		"Concept": "skos:Concept", "ConceptScheme": "skos:ConceptScheme", "Property": "rdf:Property", "Class": "rdfs:Class",
		"prefLabel":  node{"@id": "skos:prefLabel", "@language": "en"},
		"definition": node{"@id": "skos:definition", "@language": "en"},
		"label":      node{"@id": "rdfs:label", "@language": "en"}, "comment": node{"@id": "rdfs:comment", "@language": "en"},
		"editorialNote": node{"@id": "skos:editorialNote", "@language": "en"},
		"inScheme":      iriKey("skos:inScheme"), "exactMatch": iriKey("skos:exactMatch"),
		"broadMatch": iriKey("skos:broadMatch"),
	}
}

// TermLD is one term as SKOS, or as an RDF property or class.
func TermLD(base Base, t Term) ([]byte, error) {
	doc := termNode(base, t)
	doc["@context"] = vocabularyContext()
	return encode(doc)
}

// VocabularyLD is the whole vocabulary.
func VocabularyLD(base Base) ([]byte, error) {
	graph := []any{node{"id": schemeIRI(base), "type": "ConceptScheme", "prefLabel": "Terms of treatment records"}}
	for _, t := range terms() {
		graph = append(graph, termNode(base, t))
	}
	return encode(node{"@context": vocabularyContext(), "graph": graph})
}

func schemeIRI(base Base) string { return string(base) + "/vocabulary" }

func termNode(base Base, t Term) node {
	n := node{"id": base.Term(t.Name)}
	switch t.Sort {
	case "property", "class":
		n["type"], n["label"], n["comment"] = capital(t.Sort), t.Label, t.Definition
	default:
		n["type"], n["prefLabel"], n["definition"], n["inScheme"] = "Concept", t.Label, t.Definition, schemeIRI(base)
	}
	if t.MatchIRI != "" {
		n[t.Match+"Match"] = t.MatchIRI
		n["editorialNote"] = "The match rests on " + t.Evidence + "; " + unconfirmed + "."
	}
	return n
}
