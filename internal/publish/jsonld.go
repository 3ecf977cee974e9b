package publish

import (
	"bytes"
	_ "embed"
	"encoding/json"
	"fmt"
	"math/big"
	"strings"
	"time"
)

// LinkedDataType is the media type of everything that is JSON-LD.
const LinkedDataType = "application/ld+json"

// node is one JSON-LD object. Members are written in the order of their names,
// so that the same record always gives the same bytes.
type node = map[string]any

// encode writes a document; characters of every script are unescaped.
func encode(doc node) ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(doc); err != nil {
		return nil, fmt.Errorf("writing linked data: %w", err)
	}
	return bytes.TrimSuffix(b.Bytes(), []byte("\n")), nil
}

// iriKey is a key of a context whose value is an IRI.
func iriKey(iri string) node { return node{"@id": iri, "@type": "@id"} }

// iriSet is a key of a context whose values are always a list of IRIs.
func iriSet(iri string) node { return node{"@id": iri, "@type": "@id", "@container": "@set"} }

// put adds a member unless there is nothing to say.
func put(n node, name string, value any) {
	switch v := value.(type) {
	case string:
		if v == "" {
			return
		}
	case []any:
		if len(v) == 0 {
			return
		}
	case node:
		if len(v) == 0 {
			return
		}
	}
	n[name] = value
}

// decimal writes a number so that xsd:decimal can hold it: as it was written,
// or without its exponent.
func decimal(text string) string {
	if !strings.ContainsAny(text, "eE") {
		return text
	}
	r, ok := new(big.Rat).SetString(text)
	if !ok {
		return text
	}
	places, exact := r.FloatPrec()
	if !exact {
		return text
	}
	return r.FloatString(places)
}

func iris(list []string) []any {
	out := make([]any, len(list))
	for i, iri := range list {
		out[i] = iri
	}
	return out
}

func texts(list []string) []any { return iris(list) }

func linkIRIs(links []Link) []any {
	var out []any
	for _, l := range links {
		if l.IRI != "" {
			out = append(out, l.IRI)
		}
	}
	return out
}

// putInstant adds a moment; a date without a time is never padded to one.
func putInstant(n node, name string, at *time.Time) {
	if at != nil && !at.IsZero() {
		n[name] = at.UTC().Format(time.RFC3339Nano)
	}
}

// putWord adds the IRI of a term.
func putWord(n node, base Base, name, term string) {
	if term == "" {
		return
	}
	n[name] = base.Term(term)
}
