package httpapi_test

import (
	"bytes"
	"cmp"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"testing"
)

// TestOlderExports: an export that an earlier program made is restored, exported
// again in the same bytes but for the name of the sequence and the leaves, read and verified. A file
// of testdata/exports has the number of the last migration that its program knew.
func TestOlderExports(t *testing.T) {
	t.Parallel()
	files, err := filepath.Glob("../../testdata/exports/*.ndjson")
	if err != nil || len(files) == 0 {
		t.Fatalf("there is no older export: %v", err)
	}
	for _, file := range files {
		t.Run(filepath.Base(file), func(t *testing.T) {
			t.Parallel()
			before, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			s := newService(t).emptied(whoRecorded(t, before))
			s.restore(before).want(201)
			if want, after := sequenced(t, before), s.lines(); !bytes.Equal(want, after) {
				t.Errorf("the export of what was restored differs: %s", firstDifference(string(want), string(after)))
			}
			s.refresh()
			if wrong := s.verify(); len(wrong) > 0 {
				t.Errorf("got %v, want nothing wrong", wrong)
			}
			s.readAll(before)
			s.severities(before)
		})
	}
}

// readAll reads every record of an export, and what is on every specimen.
func (s *service) readAll(lines []byte) {
	s.t.Helper()
	for line := range bytes.Lines(lines) {
		var entry struct{ Kind, Record string }
		if err := json.Unmarshal(line, &entry); err != nil {
			s.t.Fatal(err)
		}
		if entry.Record == "" {
			continue // a severity, or the end
		}
		s.do(http.MethodGet, "/v1/records/"+entry.Record, nil).want(200)
		if entry.Kind == "specimen" {
			s.do(http.MethodGet, "/v1/specimens/"+entry.Record+"/present-state?detail=full", nil).want(200)
		}
	}
}

// sequenced is an export whose lines say sequence where earlier programs said place,
// and whose last line proves those.
func sequenced(t *testing.T, export []byte) []byte {
	t.Helper()
	var lines []byte
	var end struct{ End map[string]any }
	for line := range bytes.Lines(export) {
		if err := json.Unmarshal(line, &end); err != nil {
			t.Fatal(err)
		}
		if end.End == nil {
			lines = append(lines, withLeaf(bytes.Replace(line, []byte(`{"place":`), []byte(`{"sequence":`), 1))...)
		}
	}
	return fmt.Appendf(lines, "{\"end\":{\"entries\":%v,\"ruleSeverities\":%v,\"sha256\":\"%x\"}}\n",
		end.End["entries"], end.End["ruleSeverities"], sha256.Sum256(lines))
}

// withLeaf is a line with the hash of its leaf, which earlier programs did not export.
func withLeaf(line []byte) []byte {
	digest := regexp.MustCompile(`^\{"sequence":.*?"digest":"[0-9a-f]{64}"`).Find(line)
	if digest == nil {
		return line // a severity
	}
	leaf := sha256.Sum256(slices.Concat([]byte{0}, digest, []byte("}")))
	return fmt.Appendf(slices.Clip(digest), `,"leaf":"%x"%s`, leaf, line[len(digest):])
}

// severities holds that each choice of an export counts, by the words that the rule is named by now.
func (s *service) severities(lines []byte) {
	s.t.Helper()
	chosen := map[string]string{}
	for line := range bytes.Lines(lines) {
		var entry struct {
			RuleSeverity struct{ Rule, Severity string }
		}
		if err := json.Unmarshal(line, &entry); err != nil {
			s.t.Fatal(err)
		}
		if choice := entry.RuleSeverity; choice.Rule != "" {
			chosen[cmp.Or(renamed[choice.Rule], choice.Rule)] = choice.Severity
		}
	}
	rules := s.do(http.MethodGet, "/v1/check-rules", nil).want(http.StatusOK)
	for i := range rules.at("items").([]any) {
		rule, _ := rules.at("items", i, "rule").(string)
		if got, _ := rules.at("items", i, "own", "severity").(string); got != chosen[rule] {
			s.t.Errorf("%s: got the choice %q, want %q", rule, got, chosen[rule])
		}
		delete(chosen, rule)
	}
	if len(chosen) > 0 {
		s.t.Errorf("got no rules for the choices %v", chosen)
	}
}

// renamed are the rules that older exports call by another name.
var renamed = map[string]string{"N1": "solvent-resin-on-damp-body"}
