package postgres

import (
	"cmp"
	"slices"
	"strings"

	"github.com/google/uuid"

	"meniscus/internal/fault"
	"meniscus/internal/record"
)

// A Claim is a number under which a write registers a specimen, with the specimens that
// were seen to carry one that folds the same.
type Claim struct {
	SpecimenNumber
	Known []uuid.UUID
}

// ErrNumberMeanwhile says that another request registered such a number after this one
// looked for it: the statement is to be read again.
var ErrNumberMeanwhile = fault.Of(fault.Busy, "request-at-work",
	"Another request has just registered a number like this one; send it again in a moment.")

// queueClaims locks the numbers until the write has ended, in one order everywhere and in
// one statement, and fails where another specimen came to carry such a number.
func queueClaims(b *batch, claims []Claim) {
	if len(claims) == 0 {
		return
	}
	claims = slices.Clone(claims)
	for i := range claims {
		claims[i].Value = record.Fold(claims[i].Value)
	}
	slices.SortFunc(claims, func(x, y Claim) int { return cmp.Or(cmp.Compare(x.Kind, y.Kind), cmp.Compare(x.Value, y.Value)) })
	var kinds, folds, collections, known []string
	var uncollected []bool
	for _, c := range claims {
		kinds, folds, collections = append(kinds, c.Kind), append(folds, c.Value), append(collections, c.Collection)
		uncollected, known = append(uncollected, c.Uncollected), append(known, uuidArray(c.Known))
	}
	b.Queue(`
		select claim_number($1, c.kind, c.folded, c.collection, c.uncollected, c.known::uuid[])
		  from (select * from unnest($2::text[], $3::text[], $4::text[], $5::boolean[], $6::text[])
		               with ordinality as n(kind, folded, collection, uncollected, known, nth)
		         order by nth offset 0) c`,
		b.institution, kinds, folds, collections, uncollected, known)
}

// uuidArray is an array as Postgres writes it; arrays of several lengths are in no one
// parameter.
func uuidArray(ids []uuid.UUID) string {
	texts := make([]string, len(ids))
	for i, id := range ids {
		texts[i] = id.String()
	}
	return "{" + strings.Join(texts, ",") + "}"
}
