package postgres

import (
	"cmp"
	"slices"

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

// queueClaims locks the numbers until the write has ended, in one order everywhere, and
// fails where another specimen came to carry such a number.
func queueClaims(b *batch, claims []Claim) {
	claims = slices.Clone(claims)
	for i := range claims {
		claims[i].Value = record.Fold(claims[i].Value)
	}
	slices.SortFunc(claims, func(x, y Claim) int { return cmp.Or(cmp.Compare(x.Kind, y.Kind), cmp.Compare(x.Value, y.Value)) })
	for _, c := range claims {
		b.Queue(`select claim_number($1, $2, $3, $4, $5, $6)`,
			b.institution, c.Kind, c.Value, c.Collection, c.Uncollected, append([]uuid.UUID{}, c.Known...))
	}
}
