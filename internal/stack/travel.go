package stack

import (
	"math"
	"slices"
	"strings"

	"meniscus/internal/material"
)

// HeatLimit is the temperature up to which a layer is known to be sound.
type HeatLimit struct {
	// Highest is in °C, nil where no evidence says.
	Highest *float64
	// Lowest is the coldest at which it was seen to be sound, in °C, nil
	// where no evidence says.
	Lowest *float64
	Backing
	// Cautions are what speaks against taking the figure at its word.
	Cautions []string
}

// limitOf reads the evidence for a layer: temperatures at which its
// material was found sound in service. A glass transition is shown and is not a
// limit: solvent moves it down in one resin and up in another. Of several
// materials the lowest limit counts, and one without evidence makes it unknown.
func (s *Stack) limitOf(l *Layer) HeatLimit {
	var out HeatLimit
	refs := l.Identity.all()
	open := len(refs) == 0
	var lowest []Evidence // of the material that sets the limit
	for _, r := range refs {
		limit := s.knowledge.serviceLimit(r)
		out.Evidence = append(out.Evidence, limit.Evidence...)
		if limit.Highest == nil {
			open = true
			continue
		}
		if out.Highest == nil || *limit.Highest < *out.Highest {
			out.Highest, lowest = limit.Highest, limit.Evidence
		}
		if limit.Lowest != nil && (out.Lowest == nil || *limit.Lowest > *out.Lowest) {
			out.Lowest = limit.Lowest
		}
	}
	if open {
		out.Highest, out.Lowest = nil, nil
	}
	decides := func(e Evidence) bool { return slices.Contains(lowest, e) }
	others := slices.DeleteFunc(slices.Clone(out.Evidence), decides)
	out.Backing = backing(slices.Concat(lowest, others), soundInService)
	return out
}

// serviceLimit reads the service temperatures of a material. The widest range
// that a source found sound counts; a temperature that a source warns of is
// shown with it.
func (k knowing) serviceLimit(r Ref) HeatLimit {
	var out HeatLimit
	for _, f := range k.Property(r.Material, material.ServiceTemperature, r.Grade).All {
		if f.Rank == material.Doubted || !f.Value.Numeric {
			continue
		}
		out.Evidence = append(out.Evidence, factEvidence(f, soundInService, ""))
		if h := f.Value.High; !math.IsInf(h, 0) && (out.Highest == nil || h > *out.Highest) {
			out.Highest = &h
		}
		if low := f.Value.Low; f.Value.Low != f.Value.High && !math.IsInf(low, 0) &&
			(out.Lowest == nil || low < *out.Lowest) {
			out.Lowest = &low
		}
	}
	for _, f := range k.Property(r.Material, material.FaultTemperature, r.Grade).All {
		out.Evidence = append(out.Evidence, factEvidence(f, "at risk", ""))
	}
	for _, f := range k.Property(r.Material, material.GlassTransition, r.Grade).All {
		out.Evidence = append(out.Evidence, factEvidence(f, "glass transition", ", no limit by itself"))
	}
	return out
}

// factEvidence writes a temperature and what the source says of it.
func factEvidence(f material.Fact, says, but string) Evidence {
	value := strings.NewReplacer("..", " to ", "-", "−", ">", "above ", "<", "below ").Replace(f.Value.Written)
	text := says + " " + value + " °C" + but
	if f.Remark != "" {
		text += ": " + f.Remark
	}
	e := from(f.Evidence, text)
	e.word, e.of = says, f.Material
	return e
}

const soundInService = "sound in service"

// Travel is how warm a specimen may travel or stand.
type Travel struct {
	// Known is false as soon as one joint or coating has no evidence, or nothing is
	// recorded at all. AtMost then still bounds it by what is known.
	Known  bool
	AtMost *float64
	// Slumped tells that a layer slumped at AtMost: it must stay below.
	Slumped bool
	// AtLeast is the lowest temperature at which every joint was seen to be sound.
	AtLeast  *float64
	Layers   []TravelLayer
	Sentence string
	Cautions []string
}

// TravelLayer is one joint or coating with its limit.
type TravelLayer struct {
	Layer *Layer
	Limit HeatLimit
}

// Travel gives the highest temperature at which the specimen may travel or
// stand: the lowest of the limits of its joints, fills and coatings.
func (s *Stack) Travel() Travel {
	var out Travel
	open := 0
	limits := map[string]HeatLimit{} // by what a layer is made of
	for i := range s.layers {
		if s.left() {
			break
		}
		l := &s.layers[i]
		if !(l.joint() || l.Role == Fill || l.Role.film() || l.Role == UnknownRole) || !l.State.mayBeThere() {
			continue
		}
		limit, known := limits[l.key]
		if !known {
			limit = s.limitOf(l)
			limits[l.key] = limit
		}
		limit.Cautions = s.travelCautions(l)
		if s.notSet(l) {
			limit.Highest = nil
		}
		if below := s.unsound(l, &limit); below != nil && (out.AtMost == nil || *below <= *out.AtMost) {
			out.AtMost, out.Slumped = below, true
		}
		out.Layers = append(out.Layers, TravelLayer{Layer: l, Limit: limit})
		if limit.Highest == nil {
			open++
			continue
		}
		if out.AtMost == nil || *limit.Highest < *out.AtMost {
			out.AtMost, out.Slumped = limit.Highest, false
		}
		if limit.Lowest != nil && (out.AtLeast == nil || *limit.Lowest > *out.AtLeast) {
			out.AtLeast = limit.Lowest
		}
	}
	if out.Slumped && out.AtLeast != nil && *out.AtLeast >= *out.AtMost {
		out.AtLeast = nil
	}
	out.Known = open == 0 && len(out.Layers) > 0
	out.Sentence = travelSentence(out, open)
	out.Cautions = []string{
		"A joint or coating that was not recorded is not in this figure.",
		"Sound in service means for the loads and years that the source saw; support heavy joints all the same.",
	}
	if text := s.damageElsewhere(); text != "" {
		out.Cautions = append(out.Cautions, text)
	}
	return out
}

func travelSentence(t Travel, open int) string {
	switch {
	case len(t.Layers) == 0:
		return "No joint, fill or coating is recorded, which does not mean that there is none: unknown."
	case t.Known:
		return sentence("Not above %s °C, by the evidence for its joints and coatings", number(*t.AtMost))
	case t.AtMost != nil && t.Slumped:
		return sentence("Unknown: %s without evidence and may bear less; it must stay below the %s °C at which a layer slumped",
			plural(open, "one layer is", "layers are"), number(*t.AtMost))
	case t.AtMost != nil:
		return sentence("Unknown: %s without evidence and may bear less; by the others it must not be above %s °C",
			plural(open, "one layer is", "layers are"), number(*t.AtMost))
	}
	return sentence("Unknown: %s without evidence", plural(open, "one layer is", "layers are"))
}

// notSet tells whether a joint is surely too young to carry load.
func (s *Stack) notSet(l *Layer) bool {
	return l.joint() && s.driesBySolvent(l) && since(l.When, s.at).certainlyLess(s.settings.JointDays)
}

// travelCautions says what the age and the drying of a layer mean for its limit.
func (s *Stack) travelCautions(l *Layer) []string {
	if !s.driesBySolvent(l) {
		return nil
	}
	var out []string
	age := since(l.When, s.at)
	switch {
	case s.notSet(l):
		out = append(out, "It is younger than the "+number(s.settings.JointDays)+
			" days that a solvent-set joint takes until it carries load (recalled).")
	case !age.certainlyAtLeast(daysInYear):
		out = append(out, "Solvent may remain: films of the acrylic copolymer read up to 30 K below their bulk glass "+
			"transition while it does, films of poly(vinyl acetate) read above theirs; there is no universal correction.")
	}
	if l.Identity.may(oneOf("poly-vinyl-acetate-resin", "poly-vinyl-acetate-dispersion")) != No {
		out = append(out, "Joints of poly(vinyl acetate) slumped within a year of hot storage.")
	}
	if l.Identity.may(oneOf("cellulose-nitrate")) != No {
		out = append(out, "Cellulose nitrate is inherently unstable and heat hastens its decay.")
	}
	return out
}
