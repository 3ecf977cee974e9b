package solution

import (
	"math"
	"sort"
)

var freezing = Cited("ethanol-freezing", Read)

// ice are the temperatures in °C at which ice begins to form in ethanol and water, by the
// volume fraction of ethanol in tenths: Engineering ToolBox.
var ice = [...]float64{0, -4, -9, -15, -23, -32, -37, -48, -59, -73, -115}

// iceMargin is how far sources differ, in K; of water alone it is exact.
const iceMargin = 2

// ethanolFreezes is the temperature in °C at which ice begins to form in ethanol and water,
// by the mass fraction of ethanol; between the values of the table it is linear.
func ethanolFreezes(massFraction float64) float64 {
	tenths := 10 * ethanolVolumeFraction(math.Min(1, math.Max(0, massFraction)), referenceCelsius)
	i := min(int(tenths), len(ice)-2)
	return ice[i] + (tenths-float64(i))*(ice[i+1]-ice[i])
}

// refuseFrozen refuses volumes and densities of what is ice: the formula is for the liquid. A
// dilution pours water too.
func (c *spiritChecker) refuseFrozen(e EthanolWater) {
	if e.Dilution != nil {
		c.weakest = 0
	}
	point, margin := ethanolFreezes(c.weakest), float64(iceMargin)
	if c.weakest == 0 {
		margin = 0
	}
	if c.temperature >= point-margin {
		return
	}
	what := "Water"
	if c.weakest > 0 {
		what = "Water with " + number(100*ethanolVolumeFraction(c.weakest, referenceCelsius)) + " % of ethanol by volume"
	}
	c.faults.Add("frozen", e.at()+"/temperature", "%s freezes at about %s °C: at %s °C it does not pour, and the formula is "+
		"for the liquid.", what, number(point), number(c.temperature))
}

// refuseFrozen refuses to measure a liquid at a temperature at which it is frozen. Liquids
// together freeze lower, and how much lower is not known here: then it is a warning.
func (c *checker) refuseFrozen(s *system) {
	if cold := s.frozen(); len(cold) > 0 && s.liquidCount() == 1 {
		c.faults.Add("frozen", "/temperature", "%s freezes at %s °C: at %s °C it does not pour. Warm it until all of it has "+
			"melted, and measure there.", capital(cold[0].Name), number(*cold[0].Freezes), number(s.celsius))
	}
}

// frozen are the liquids that are frozen alone at the temperature of a system, the one that
// freezes first before the others.
func (s *system) frozen() []Component {
	var cold []Component
	for _, c := range s.components {
		if c.Phase == Liquid && c.Freezes != nil && s.celsius < *c.Freezes {
			cold = append(cold, c)
		}
	}
	sort.SliceStable(cold, func(i, j int) bool { return *cold[i].Freezes > *cold[j].Freezes })
	return cold
}

func (s *system) liquidCount() int {
	n := 0
	for _, c := range s.components {
		if c.Phase == Liquid {
			n++
		}
	}
	return n
}

// warnFrozen warns of liquids that are frozen alone and may not be among the others.
func (a *Advice) warnFrozen(s *system) {
	for _, c := range s.frozen() {
		a.warn("may-freeze", Warn, c.FreezesSource, capital(c.Name)+" freezes at "+number(*c.Freezes)+
			" °C by itself: warm it until all of it has melted before it is measured.")
	}
}

// frozen tells whether a solvent is frozen by itself at a temperature.
func (e Evaporating) frozen(celsius float64) bool { return e.Freezes != nil && celsius < *e.Freezes }

// refuseFrozenBottle refuses a bottle of one solvent that is frozen when it is closed: the growth
// computed here is that of a liquid, and not of one that melts.
func (c *checker) refuseFrozenBottle(b bottle) {
	closed := b.inputs[bottleClosed].Value
	if len(b.solvent) == 1 && b.solvent[0].frozen(closed) {
		e := b.solvent[0]
		c.faults.Add("frozen", "/closedAt", "%s freezes at %s °C and is not liquid at %s °C: how it grows when it melts is not "+
			"computed here. Give the temperature at which all of it is liquid.", capital(e.Name), number(*e.Freezes), number(closed))
	}
}

// warnFrozenAlone warns of a solvent among others that is frozen by itself.
func (a *Advice) warnFrozenAlone(e Evaporating, celsius float64) {
	if e.frozen(celsius) {
		a.warn("may-freeze", Warn, e.FreezesSource, capital(e.Name)+" freezes at "+number(*e.Freezes)+
			" °C by itself: where part of it is frozen, the growth computed here is not right.")
	}
}
