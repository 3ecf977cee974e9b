package layers_test

import (
	"strings"
	"testing"

	"github.com/google/uuid"

	"meniscus/internal/layers"
	"meniscus/internal/material"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
)

// TestAnExaminationAndAWord: words on record make a hazard suspected, and only a later
// examination with method and limit says otherwise; which of the two is missing is said.
// Rule H5 of the project's notes on layers.
func TestAnExaminationAndAWord(t *testing.T) {
	t.Parallel()
	clue := func(words string) postgres.Clue {
		return postgres.Clue{Row: row(record.KindTreatment, uuid.New(), words)}
	}
	pest := func(year string) postgres.Clue {
		return clue(`{"specimen":{},"action":"pest-treatment","areas":{"answer":"unknown"},"dates":{"edtf":"` + year +
			`"},"remarks":"arsenical soap"}`)
	}
	examined := func(year, how string) postgres.Clue {
		return clue(`{"specimen":{},"action":"examination","areas":{"paths":["whole"]},"dates":{"edtf":"` + year +
			`"},"examination":{"outcome":"none-found","lookedFor":"arsenic"` + how + `}}`)
	}
	const method, limit = `,"how":"X-ray fluorescence"`, `,"limit":"50 mg/kg"`
	for name, c := range map[string]struct {
		clues        []postgres.Clue
		status, says string
	}{
		"a word": {[]postgres.Clue{pest("1911")}, "suspected",
			"suspected to hold arsenic (“arsenical soap” in a treatment, 1911)"},
		"method and limit": {[]postgres.Clue{pest("1911"), examined("2001", method+limit)}, "none-found",
			"arsenic (none found by X-ray fluorescence down to 50 mg/kg, 2001; “arsenical soap”"},
		"no limit": {[]postgres.Clue{pest("1911"), examined("2001", method)}, "suspected",
			"none found by X-ray fluorescence; no limit of detection is recorded, 2001"},
		"no method": {[]postgres.Clue{pest("1911"), examined("2001", limit)}, "suspected",
			"none found by a method that is not recorded down to 50 mg/kg, 2001"},
		"neither": {[]postgres.Clue{pest("1911"), examined("2001", "")}, "suspected",
			"none found by a method that is not recorded; no limit of detection is recorded, 2001"},
		"an earlier examination": {[]postgres.Clue{pest("1911"), examined("1905", method+limit)}, "suspected",
			"suspected to hold arsenic (“arsenical soap” in a treatment, 1911)"},
		"a word later than that": {[]postgres.Clue{pest("1911"), examined("1950", method+limit), pest("1960")}, "suspected", "1960"},
		"a better one after a poor": {[]postgres.Clue{pest("1911"), examined("1950", method), examined("2001",
			method+limit)}, "none-found", "down to 50 mg/kg, 2001"},
	} {
		sp := layers.SpecimenOf(uuid.New(), nil, nil, c.clues, material.Builtin())
		said := strings.Join(sp.Notices(), " ")
		for _, h := range sp.Hazards {
			if h.Name == "arsenic" && h.Status != c.status {
				t.Errorf("%s: arsenic is %s, want %s", name, h.Status, c.status)
			}
		}
		if !strings.Contains(said, c.says) {
			t.Errorf("%s: got %q, want %q", name, said, c.says)
		}
	}
}
