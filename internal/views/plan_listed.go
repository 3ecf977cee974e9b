package views

import (
	"slices"
	"strconv"
	"strings"

	"meniscus/internal/stack"
)

// planListed remembers what the steps of a plan said of each liquid, so that it is
// said once: most layers of one material are alike, and a plan has a hundred steps.
type planListed struct {
	step int32 // from 1
	of   map[candidateKey]listedCandidate
}

// candidateKey is a liquid with what it rests on.
type candidateKey struct{ solvent, evidence string }

// listedCandidate is at which step a liquid was listed, and what it would disturb of
// the layers that are to come off anyway.
type listedCandidate struct {
	step   int32
	wanted map[collateralKind]bool
}

// before gives the earlier step that lists the same liquid with the same evidence and at
// least the same layers that come off anyway. A candidate without one is remembered, and
// gets 0. As layers come off, less is left to disturb.
func (p *planListed) before(x stack.Candidate) int32 {
	if p == nil {
		return 0
	}
	var evidence strings.Builder
	for _, e := range x.Evidence {
		evidence.WriteString(strings.Join([]string{
			e.Says, string(e.Sources), e.Treatment, e.Status, e.Date,
		}, "\x00") + "\x01")
	}
	evidence.WriteString(strings.Join(x.Why, "\x00") + strconv.Itoa(x.MoreEvidence))
	key := candidateKey{x.Solvent, evidence.String()}
	groups := map[collateralKind]bool{}
	for _, c := range x.Collateral {
		if c.Wanted {
			groups[kindOfCollateral(c)] = true
		}
	}
	known, ok := p.of[key]
	if ok && !slices.ContainsFunc(x.Collateral, func(c stack.Collateral) bool {
		return c.Wanted && !known.wanted[kindOfCollateral(c)]
	}) {
		return known.step
	}
	p.of[key] = listedCandidate{p.step, groups}
	return 0
}

// collateralKind is what layers of one collateral have in common.
type collateralKind struct {
	role     stack.Role
	material string
	observed stack.Observed
	possible bool
}

func kindOfCollateral(c stack.Collateral) collateralKind {
	return collateralKind{c.Role, c.Material, c.Observed, c.Possible}
}
