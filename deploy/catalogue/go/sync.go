//go:build ignore

// Command sync keeps a catalogue in step. AT and KEY are set; numbers.txt is here, a number a line.
package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"log"
	"net/http"
	"os"
	"strings"
)

// ask sends a request and gives the answer's body; a problem says what to mend.
func ask(path string, body any, accept string) ([]byte, error) {
	method, content := http.MethodGet, []byte(nil)
	if body != nil {
		var err error
		if content, err = json.Marshal(body); err != nil {
			return nil, err
		}
		method = http.MethodPost
	}
	r, err := http.NewRequest(method, os.Getenv("AT")+path, bytes.NewReader(content))
	if err != nil {
		return nil, err
	}
	r.Header.Set("Authorization", "Bearer "+os.Getenv("KEY"))
	r.Header.Set("Content-Type", "application/json")
	r.Header.Set("Accept", accept)
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		return nil, err
	}
	defer answer.Body.Close()
	got, err := io.ReadAll(answer.Body)
	if err == nil && answer.StatusCode > 299 {
		err = fmt.Errorf("%s: %s: %s", path, answer.Status, got)
	}
	return got, err
}

func askJSON(path string, body, into any) error {
	got, err := ask(path, body, "application/json")
	if err != nil {
		return err
	}
	return json.Unmarshal(got, into)
}

func page(specimen string) error {
	for accept, ending := range map[string]string{"text/html": "html", "image/svg+xml": "svg"} {
		summary, err := ask("/v1/specimens/"+specimen+"/summary", nil, accept)
		if err != nil {
			return err
		}
		if err := os.WriteFile("summaries/"+specimen+"."+ending, summary, 0o644); err != nil {
			return err
		}
	}
	return nil
}

func lookUp(numbers []string) error {
	type number struct {
		Number string `json:"number"`
	}
	var asked []number
	for _, n := range numbers {
		asked = append(asked, number{n})
	}
	var known struct {
		Items []struct {
			Answer    string
			Specimens []struct{ Specimen struct{ ID string } }
		}
	}
	if err := askJSON("/v1/specimen-lookup", map[string]any{"numbers": asked}, &known); err != nil {
		return err
	}
	for _, item := range known.Items {
		for _, hit := range item.Specimens {
			if item.Answer != "recorded" {
				continue
			}
			if err := page(hit.Specimen.ID); err != nil {
				return err
			}
		}
	}
	return nil
}

func follow() error {
	for {
		after, _ := os.ReadFile("cursor.txt") // from the beginning if there is none
		var changes struct {
			Items []struct {
				Record struct {
					Kind      string
					Statement struct{ Specimen struct{ ID string } }
				}
			}
			Cursor string
		}
		path := "/v1/changes?limit=500"
		if len(after) > 0 {
			path += "&cursor=" + string(after)
		}
		if err := askJSON(path, nil, &changes); err != nil || len(changes.Items) == 0 {
			return err
		}
		changed := map[string]bool{}
		for _, c := range changes.Items {
			if c.Record.Kind == "treatment" && c.Record.Statement.Specimen.ID != "" {
				changed[c.Record.Statement.Specimen.ID] = true
			}
		}
		for specimen := range changed {
			if err := page(specimen); err != nil {
				return err
			}
		}
		if err := os.WriteFile("cursor.new", []byte(changes.Cursor), 0o644); err != nil {
			return err
		}
		if err := os.Rename("cursor.new", "cursor.txt"); err != nil { // whole or not at all
			return err
		}
	}
}

// Your record's id makes it one treatment, however often it is sent.
const treatment = `{
  "source": {"system": "catalogue", "recordId": "T-2026-0034"},
  "statement": {
    "specimen": {"identifier": {"kind": "catalogue-number", "value": "LV.1987/0042", "collection": "palaeontology"}},
    "action": "cleaning", "method": "swab", "areas": {"paths": ["skull/right-orbit"]}, "dates": {"edtf": "2026-02"},
    "people": [{"person": {"name": "Ilse Varga"}, "part": "carried-out"}]}}`

func run() error {
	if err := os.MkdirAll("summaries", 0o755); err != nil {
		return err
	}
	numbers, err := os.ReadFile("numbers.txt")
	if err != nil {
		return err
	}
	if err := lookUp(strings.Split(strings.TrimSpace(string(numbers)), "\n")); err != nil {
		return err
	}
	if _, err := ask("/v1/treatments", json.RawMessage(treatment), "application/json"); err != nil {
		return err
	}
	return follow()
}

func main() {
	if err := run(); err != nil {
		log.Fatal(err)
	}
}
