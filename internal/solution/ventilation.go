package solution

import (
	"fmt"
	"math"

	"meniscus/internal/quantity"
)

// AirNeeded is the flow of air that would hold a steady release at one list's
// limit over a working day.
type AirNeeded struct {
	List  string
	Leads bool // its list is one of those that the answer tells first
	// Room holds the average of the room at the limit: Q = K Σ(Gᵢ/Lᵢ). It leaves
	// the air at the work above it.
	Room *quantity.Outcome // m³/h; nil where the incoming air is at the limit
	// Near holds the air at the work at the limit; nil where no flow through the
	// room does, because the near field's own exchange is too small.
	Near     *quantity.Outcome // m³/h
	Sentence string
}

// airNeeded computes, for a steady release,
//
//	S = Σ(Gᵢ/Lᵢ)/(1 − Σ cᵢ/Lᵢ)   air with cᵢ in it that dilutes the release to the limit, m³/h
//	Q = K S              room at the limit
//	1/Q' = 1/S - 1/β     near field at the limit (from C = G/Q' + G/β), Q = K Q'
//
// with Gᵢ in g/h while the work lasts and Lᵢ in g/m³. Where S ≥ β no flow
// through the room is enough. Source of Q = K S: university industrial-hygiene
// notes (read); its published example is a test.
func (s scene) airNeeded(limits []LimitComparison) []AirNeeded {
	var list []AirNeeded
	for _, key := range limits {
		if key.Kind != WorkingDay {
			continue
		}
		list = append(list, s.airNeededFor(key))
	}
	return list
}

func (s scene) airNeededFor(limit LimitComparison) AirNeeded {
	both := quantity.PropagateAll(s.inputs, 2, func(x, out []float64) {
		clean := s.cleanAir(x, limit.List)
		out[0] = x[inMixing] * clean
		out[1] = x[inMixing] / (1/clean - 1/near(x).flow)
	})
	a := AirNeeded{List: limit.List, Leads: limit.Leads}
	clean := s.cleanAir(s.values(), limit.List)
	if clean < math.Inf(1) {
		a.Room = &both[0]
	}
	if clean < near(s.values()).flow {
		a.Near = &both[1]
	}
	a.Sentence = a.sentence()
	return a
}

// cleanAir is S in m³/h over the solvents that have a working-day limit in the list; +Inf where the incoming air is at
// the limit.
func (s scene) cleanAir(x []float64, list string) float64 {
	v := molarVolume(x[inTemperature], x[inPressure])
	sum, left := 0.0, 1.0
	for i, solvent := range s.solvent {
		if limit, ok := solvent.limit(list, WorkingDay); ok {
			sum += s.poured.grams(x, i) / x[inTime] / gramsPerM3(limit.PPM, solvent.MolarMass, v)
			left -= s.incoming.ppm(x, i, solvent.MolarMass, v) / limit.PPM
		}
	}
	if left <= 0 {
		return math.Inf(1)
	}
	return sum / left
}

func (a AirNeeded) sentence() string {
	if a.Room == nil {
		return a.List + ": the air that comes in is at the limit already, so no flow of it is enough."
	}
	text := fmt.Sprintf("%s: about %s m³ of air an hour keep the room at the limit", a.List,
		about(a.Room.Value))
	if a.Near == nil {
		return text +
			", and no flow through the room brings the air at the work down to it: catch the vapour where it arises " +
			"(fume hood, extraction arm), or give off less of it in the time."
	}
	return text + fmt.Sprintf(", %s m³ the air at the work.", about(a.Near.Value))
}
