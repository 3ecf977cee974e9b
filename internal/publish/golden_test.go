package publish_test

import (
	"bytes"
	"encoding/json"
	"flag"
	"os"
	"path/filepath"
	"testing"

	"github.com/google/go-cmp/cmp"

	"meniscus/internal/publish"
)

var update = flag.Bool("update", false, "write the golden files anew")

// The documents that other people's tools check (deploy/check/linked-data.mjs).
func TestGoldenDocuments(t *testing.T) {
	t.Parallel()
	retracted := skull().Treatments[0]
	retracted.Revision.Retracted, retracted.Revision.Reason = true, "The wrong skull"
	term, _ := publish.FindTerm("action-consolidation")
	property, _ := publish.FindTerm("onBehalfOf")
	for name, make := range map[string]func() ([]byte, error){
		"crm/skull.jsonld": func() ([]byte, error) { return publish.SpecimenCRM(base, skull()) },
		"crm/jar.jsonld":   func() ([]byte, error) { return publish.SpecimenCRM(base, jar()) },
		"crm/treatment.jsonld": func() ([]byte, error) {
			return publish.TreatmentCRM(base, skull().Treatments[0], skull())
		},
		"crm/retracted.jsonld": func() ([]byte, error) { return publish.TreatmentCRM(base, retracted, skull()) },
		"prov/skull.jsonld": func() ([]byte, error) {
			return publish.SpecimenProvenance(base, skull(), publish.OneSpecimen)
		},
		"prov/skull-states.jsonld": func() ([]byte, error) {
			return publish.SpecimenProvenance(base, skull(), publish.BeforeAndAfter)
		},
		"prov/jar.jsonld": func() ([]byte, error) { return publish.SpecimenProvenance(base, jar(), publish.OneSpecimen) },
		"prov/treatment.jsonld": func() ([]byte, error) {
			return publish.TreatmentProvenance(base, skull().Treatments[0], publish.OneSpecimen)
		},
		"prov/retracted.jsonld": func() ([]byte, error) {
			return publish.TreatmentProvenance(base, retracted, publish.OneSpecimen)
		},
		"vocabulary/vocabulary.jsonld":    func() ([]byte, error) { return publish.VocabularyLD(base) },
		"vocabulary/consolidation.jsonld": func() ([]byte, error) { return publish.TermLD(base, term) },
		"vocabulary/on-behalf-of.jsonld":  func() ([]byte, error) { return publish.TermLD(base, property) },
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			got, err := make()
			if err != nil {
				t.Fatal(err)
			}
			golden(t, name, got)
		})
	}
}

// golden compares a document with the golden file. Golden files are indented, so
// that a change can be read.
func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	var indented bytes.Buffer
	if err := json.Indent(&indented, got, "", "  "); err != nil {
		t.Fatal(err)
	}
	indented.WriteByte('\n')
	file := filepath.Join("..", "..", "testdata", "golden", "publish", name)
	if *update {
		if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(file, indented.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(indented.String(), string(want)); diff != "" {
		t.Errorf("%s (-got +want), write anew with -update:\n%s", name, diff)
	}
}
