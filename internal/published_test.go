package internal

import (
	"encoding/json"
	"os"
	"regexp"
	"strings"
	"testing"
)

// published are the numbers of the published examples, Y009 to Y146.
const published = "009 010 011 013 015 016 017 019 020 022 024 025 026 027 030 032 033 034 037 039 040 042 044 046 047 048 049 052 " +
	"053 054 055 057 058 059 060 064 066 067 068 069 070 072 074 080 081 082 083 088 089 090 093 095 096 098 100 103 104 106 107 110 " +
	"114 115 116 117 123 125 127 129 130 131 134 136 143 144 145 146"

// Each published example is a request, stands in another test, or is left out with the capability that it wants and why.
// One that is left out is in no request but a part of it.
func TestEveryPublishedExampleIsAccountedFor(t *testing.T) {
	t.Parallel()
	text, err := os.ReadFile("../testdata/published/requests.json")
	if err != nil {
		t.Fatal(err)
	}
	var table struct {
		Examples  []struct{ ID string }
		Missing   []struct{ ID, Capability, Why string }
		Elsewhere []struct{ ID, In string }
	}
	if err := json.Unmarshal(text, &table); err != nil {
		t.Fatal(err)
	}
	at := map[string]string{}
	for _, e := range table.Examples {
		for _, y := range numbers(e.ID) {
			at[y] = "a request"
		}
	}
	for _, e := range table.Elsewhere {
		if _, err := os.Stat("../" + e.In); err != nil {
			t.Errorf("%s: %v", e.ID, err)
		}
		for _, y := range numbers(e.ID) {
			at[y] = e.In
		}
	}
	for _, m := range table.Missing {
		if m.Capability == "" || m.Why == "" {
			t.Errorf("%s is left out without the capability or without a reason", m.ID)
		}
		part := strings.Count(m.ID, ", ") == 1 && !strings.Contains(m.ID, ", Y")
		for _, y := range numbers(m.ID) {
			if at[y] != "" && !part {
				t.Errorf("%s is left out, and is %s", y, at[y])
			}
			at[y] = "left out"
		}
	}
	for _, y := range strings.Fields(published) {
		if at["Y"+y] == "" {
			t.Errorf("Y%s stands nowhere", y)
		}
		delete(at, "Y"+y)
	}
	for y := range at {
		t.Errorf("%s is no number of an example", y)
	}
}

func numbers(id string) []string { return regexp.MustCompile(`\bY\d{3}\b`).FindAllString(id, -1) }
