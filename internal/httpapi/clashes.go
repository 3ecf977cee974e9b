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
)

// readSpecimen gives a specimen's record, with the clashes of its numbers. They
// come and go with other records, so they are part of its validator; If-Match
// asks for the record's own part alone.
func readSpecimen(s *Server, c *call) (*answer, error) {
	a, err := read(record.KindSpecimen, "specimenId")(s, c)
	if err != nil {
		return nil, err
	}
	id := c.id("specimenId")
	clashes, err := s.store.ClashesOf(c.ctx(), c.principal.Institution, []uuid.UUID{id})
	if err != nil || len(clashes[id]) == 0 {
		return a, err
	}
	findings, err := encode(clashFindings(clashes[id]))
	if err != nil {
		return nil, err
	}
	a.body = slices.Concat(a.body[:len(a.body)-1], []byte(`,"findings":`), findings, []byte("}"))
	sum := sha256.Sum256(findings)
	a.etag = strings.TrimSuffix(a.etag, `"`) + besideTag + hex.EncodeToString(sum[:4]) + `"`
	return a, nil
}

// besideTag begins the part of a validator that is not the record's own.
const besideTag = "+"

// ownTag is a validator without what stands beside the record.
func ownTag(tag string) string {
	if own, _, beside := strings.Cut(tag, besideTag); beside {
		return own + `"`
	}
	return tag
}

// clashFindings makes one finding for each number.
func clashFindings(clashes []postgres.Clash) []api.Finding {
	remedy := "Merge them if they are one specimen; amend the wrong number if they are not."
	type number struct{ kind, value string }
	others := map[number][]uuid.UUID{}
	spellings := map[number][]string{}
	var order []number
	for _, c := range clashes {
		n := number{c.Kind, c.Number}
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
		records := others[n]
		found = append(found, api.Finding{Rule: "number-clash", Severity: "warn", Remedy: &remedy, Records: &records,
			Sentence: clashSentence(n.kind, n.value, len(records)+1, spellings[n])})
	}
	return found
}

func clashSentence(kind, value string, specimens int, spellings []string) string {
	kind = strings.ReplaceAll(kind, "-", " ")
	if len(spellings) == 0 {
		return fmt.Sprintf("%d specimens of one collection carry this %s, %s; each stands until they are merged.", specimens, kind, value)
	}
	return fmt.Sprintf("%d specimens of one collection carry this %s, %s, or a spelling of it that differs in spaces, case or dashes alone (%s); each stands until they are merged.",
		specimens, kind, value, strings.Join(spellings[:min(len(spellings), record.MaxNear)], ", "))
}
