package solution

import "meniscus/internal/quantity"

// Explosive is how near the air is to burning.
type Explosive struct {
	// Room and Near are the share of the lower explosive limit at the highest
	// concentration, for all vapours together: 1 burns.
	Room, Near quantity.Outcome
	// MixtureLimit is the lower explosive limit of this mixture of vapours, % by
	// volume; nil if none of them burns.
	MixtureLimit *float64
	// Without names the solvents that have no such limit here.
	Without []string
}

// explosiveShare is the share of the lower explosive limit at the peaks, with yᵢ the
// part of vapour i among the vapours that burn:
//
//	LEL = 1/Σ(yᵢ/LELᵢ)   and so   ΣCᵢ/LEL = Σ(Cᵢ/LELᵢ)
//
// Source: Le Chatelier's rule (recalled). 1 % by volume is 10 000 ppm. The peaks
// of the solvents are taken as if they came together.
func (s scene) explosiveShare(air []levels) (share float64) {
	for i, e := range s.solvent {
		if e.LowerExplosive != nil {
			share += air[i][levelPeak] / (*e.LowerExplosive * 1e4)
		}
	}
	return share
}

// explosive adds to the shares the limit of the mixture, and the solvents without a limit.
func (s scene) explosive(air []SolventInAir, shares [2]quantity.Outcome) Explosive {
	e := Explosive{Room: shares[0], Near: shares[1]}
	var sum, parts float64
	for i, solvent := range s.solvent {
		if solvent.LowerExplosive == nil {
			e.Without = append(e.Without, solvent.Name)
			continue
		}
		sum += air[i].Near.Peak.PPM.Value
		parts += air[i].Near.Peak.PPM.Value / *solvent.LowerExplosive
	}
	if parts > 0 {
		limit := sum / parts
		e.MixtureLimit = &limit
	}
	return e
}
