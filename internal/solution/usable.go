package solution

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"meniscus/internal/fault"
	"meniscus/internal/quantity"
)

// Usable is the amount of one solvent that brings the air at the work to the first of its limits, or to a tenth of
// its lower explosive limit.
type Usable struct {
	Millilitres quantity.Outcome
	Grams       float64
	By          string // what is reached first
	Sentence    string
}

// alarmShare is the share of the lower explosive limit where alarms are set.
const alarmShare = 0.1

// asksHowMuch tells whether the amount of the one solvent is what is asked for.
func (v Vapour) asksHowMuch() bool {
	return len(v.Solvents) == 1 && v.Solvents[0].Amount.IsZero() && v.Release.Spill == nil
}

// ceiling is a concentration that is not to be exceeded.
type ceiling struct {
	name  string
	level int // of the levels of one place
	ppm   float64
}

// howMuch finds the amount, and answers for it, rounded down. Below saturation the air holds vapour in proportion to
// the amount:
//
//	m = (L - c₀) M/(1000 V_m) / (C/m)
//
// with L the limit and c₀ the incoming air in ppm, V_m the litres that a mole of air takes, and C/m the g/m³ that
// each gram leads to. Source: the box models (box.go), solved for the mass.
func (v Vapour) howMuch() (VapourAnswer, error) {
	asked := v
	asked.Solvents = []VapourShare{v.Solvents[0]}
	asked.Solvents[0].Amount = quantity.New("1", quantity.Gram)
	s, err := asked.scene()
	if err != nil {
		return VapourAnswer{}, err
	}
	first, grams, err := s.firstReached()
	if err != nil {
		return VapourAnswer{}, err
	}
	u := Usable{By: first.name, Millilitres: quantity.Propagate(s.inputs, func(x []float64) float64 {
		return s.gramsFor(x, first) / x[s.poured.first+1]
	})}
	rounded := roundedDown(u.Millilitres.Value)
	u.Grams = rounded * grams / u.Millilitres.Value
	if asked.Solvents[0].Amount, err = quantity.Of(rounded, quantity.Millilitre); err != nil {
		return VapourAnswer{}, noFiniteAnswer()
	}
	answer, err := ComputeVapour(asked)
	if err != nil {
		return VapourAnswer{}, noFiniteAnswer()
	}
	u.Sentence = fmt.Sprintf("About %s mL of %s (%s g) bring the air at the work to %s, which is reached first: use less.",
		about(rounded), s.solvent[0].Name, about(u.Grams), u.By)
	answer.Usable, answer.Answer = &u, u.Sentence+notKnown(answer.Limits)
	// The air does not come above the limit.
	answer.AirNeeded, answer.Clearing = nil, nil
	answer.Steps = slices.DeleteFunc(answer.Steps, func(step string) bool { return step == giveOffLess })
	return answer, nil
}

// roundedDown keeps two digits.
func roundedDown(x float64) float64 {
	step := math.Pow(10, math.Floor(math.Log10(x))-1)
	return quantity.Significant(math.Floor(x/step*(1+1e-12))*step, 2)
}

// firstReached is what the least mass reaches, and that mass in g.
func (s scene) firstReached() (first ceiling, grams float64, err error) {
	grams = math.Inf(1)
	for _, c := range s.ceilings() {
		if m := s.gramsFor(s.values(), c); m < grams {
			first, grams = c, m
		}
	}
	switch {
	case math.IsInf(grams, 1):
		return first, 0, fault.New("no-limit-known", "/solvents/0/limits",
			"No limit is held for this solvent, so what may be used cannot be told: give a limit of your own.")
	case grams <= 0:
		return first, 0, fault.New("incoming-above-limit", "/solvents/0/incoming",
			"The air that comes in is at %s already, so nothing may be used.", first.name)
	}
	return first, grams, nil
}

// ceilings are the limits of the solvent, and a tenth of its lower explosive limit.
func (s scene) ceilings() (all []ceiling) {
	e := s.solvent[0]
	level := map[LimitKind]int{WorkingDay: levelDay, ShortTerm: levelShort, Ceiling: levelPeak}
	for _, key := range limitKeys(s.solvent) {
		if limit, ok := e.limit(key.List, key.Kind); ok {
			all = append(all, ceiling{TheList(key.List) + " " + limitWords[key.Kind], level[key.Kind], limit.PPM})
		}
	}
	if e.LowerExplosive != nil && len(all) > 0 {
		all = append(all, ceiling{"a tenth of the lower explosive limit", levelPeak, alarmShare * *e.LowerExplosive * 1e4})
	}
	return all
}

// TheList is a list of limits with its article.
func TheList(name string) string {
	if strings.HasPrefix(name, "your") {
		return name
	}
	return "the " + name
}

// gramsFor is the mass that leads to it.
func (s scene) gramsFor(x []float64, c ceiling) float64 {
	m, v := s.solvent[0].MolarMass, molarVolume(x[inTemperature], x[inPressure])
	each := s.perGram(x, 0, s.room(x), near(x))[c.level]
	return gramsPerM3(c.ppm-s.incoming.ppm(x, 0, m, v), m, v) / each
}
