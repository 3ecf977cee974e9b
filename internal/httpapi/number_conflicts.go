package httpapi

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"
	"strings"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
	"meniscus/internal/wire"
)

// readSpecimen gives a specimen's record, with the conflicts of its numbers. Other
// records change them, so they are part of its ETag; If-Match compares the record's own
// part alone.
func readSpecimen(s *Server, c *requestContext) (*answer, error) {
	a, err := read(record.KindSpecimen, "specimenId")(s, c)
	if err != nil {
		return nil, err
	}
	id := c.id("specimenId")
	conflicts, err := c.tenant().ConflictsOf(c.ctx(), []uuid.UUID{id})
	if err != nil || len(conflicts[id]) == 0 {
		return a, err
	}
	findings, err := wire.Encode(conflictFindings(conflicts[id]))
	if err != nil {
		return nil, err
	}
	a.body = slices.Concat(a.body[:len(a.body)-1], []byte(`,"findings":`), findings, []byte("}"))
	sum := sha256.Sum256(findings)
	a.etag = strings.TrimSuffix(a.etag, `"`) + besideTag + hex.EncodeToString(sum[:4]) + `"`
	return a, nil
}

// besideTag begins the part of an ETag that is not the record's own.
const besideTag = "+"

// ownTag is an ETag without that part.
func ownTag(tag string) string {
	if own, _, beside := strings.Cut(tag, besideTag); beside {
		return own + `"`
	}
	return tag
}

// conflictFindings makes one finding for each number and those that are the same,
// and one for each number and those that are nearly so.
func conflictFindings(conflicts []postgres.NumberConflict) []api.Finding {
	type number struct {
		kind, value string
		same        bool
	}
	others := map[number][]uuid.UUID{}
	spellings := map[number][]string{}
	var order []number
	for _, c := range conflicts {
		n := number{c.Kind, c.Number, c.Same()}
		if others[n] == nil {
			order = append(order, n)
		}
		if !slices.Contains(others[n], c.Other) {
			others[n] = append(others[n], c.Other)
		}
		if c.OtherValue != c.Number && !slices.Contains(spellings[n], c.OtherValue) {
			spellings[n] = append(spellings[n], c.OtherValue)
		}
	}
	var found []api.Finding
	for _, n := range order[:min(len(order), record.MaxNear)] {
		if records := others[n]; n.same {
			sentence := conflictSentence(n.kind, n.value, len(records)+1, spellings[n])
			found = append(found, numberFinding("number-clash", "warn", records, sentence))
		} else {
			found = append(found, numberFinding("number-near", "info", records, nearSentence(n.kind, n.value, spellings[n])))
		}
	}
	return found
}

func numberFinding(rule string, severity api.Severity, records []uuid.UUID, sentence string) api.Finding {
	remedy := "Merge them if they are one specimen; amend the wrong number if they are not."
	return api.Finding{Rule: rule, Severity: severity, Remedy: &remedy, Records: new(api.Refs(records)), Sentence: sentence}
}

func conflictSentence(kind, value string, specimens int, spellings []string) string {
	kind = strings.ReplaceAll(kind, "-", " ")
	if len(spellings) == 0 {
		return fmt.Sprintf(
			"%d specimens of one collection carry this %s, %s; each stands until they are merged.", specimens, kind, value)
	}
	return fmt.Sprintf("%d specimens of one collection carry this %s, %s, or a spelling of it that differs in spaces, case or dashes alone (%s); each stands until they are merged.",
		specimens, kind, value, strings.Join(spellings[:min(len(spellings), record.MaxNear)], ", "))
}

func nearSentence(kind, value string, spellings []string) string {
	return fmt.Sprintf("In its collection there is also a %s that differs from %s in punctuation or leading zeros alone (%s); only the catalogue knows whether they are one.",
		strings.ReplaceAll(kind, "-", " "), value, strings.Join(spellings[:min(len(spellings), record.MaxNear)], ", "))
}
