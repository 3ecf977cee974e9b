package stack

import (
	"math"

	"meniscus/internal/material"
)

// limitRules are about temperature, humidity, drying and strength.
var limitRules = []Rule{
	{
		ID: "film-may-whiten", Severity: Info, Application: true,
		Condition: "Whitening of a film from a fast solvent; a warning when the surface, cooled by 11.1 K, " +
			"is at or below the dew point.",
		Remedy: "Take a slower solvent or work in warmer, dry air; whitening is worse at lower strength, " +
			"thinner coats and more water-miscible solvent, so thinning more makes it worse. It can be cured.",
		Sources: []string{"zhao-2024", "woodworking-2006", "alduchov-eskridge-1996"},
		look:    whitening,
	},
	{
		ID: "warmer-than-evidence", Severity: Warn,
		Condition: "The store, the transport or the show is warmer than the evidence for a joint or coating reaches.",
		Remedy:    "Keep it cooler, support the joints, or choose another adhesive.",
		Sources: []string{"koob-2005", "koob-2001", "site-conservation-2011", "acrylic-films-2019", "hansen-1991",
			"conservators-discussion-2023"},
		look: warmStore,
	},
	{
		ID: "outside-working-climate", Severity: Info, Application: true,
		Condition: "Application outside 15 to 25 °C (ethyl silicate: 10 to 25 °C and 40 to 70 % relative humidity).",
		Remedy:    "Wait for, or make, a moderate climate.",
		Sources:   []string{"recalled"},
		look:      workingClimate,
	},
	{
		ID: "touch-dry-is-not-dry", Severity: Info,
		Condition: "Touch-dry is not dry: solvent was found after a year; a warning when a barrier or a joint that carries " +
			"load relies on it.",
		Remedy:  "Let it dry longer and say how long and at what temperature; that it is free of solvent cannot be said.",
		Sources: []string{"materials-encyclopedia", "hansen-1991"},
		look:    notDry,
	},
	{
		ID: "fast-drying-draws-resin-up", Severity: Info, Application: true,
		Condition: "Fast drying draws resin to the surface.",
		Remedy: "Dry slowly in a closed bag or in saturated vapour (in wood, very slow drying lowered the strength of " +
			"poly(vinyl butyral)).",
		Sources: []string{"koob-1999", "wang-schniewind-1985", "hansen-lowinger-1993"},
		look:    fastDrying,
	},
	{
		ID: "gloss-and-darkening", Severity: Info, Application: true,
		Condition: "Gloss and darkening from a strong solution or a single coat.",
		Remedy:    "Lower the strength, lay several coats, and dry in saturated vapour.",
		Sources:   []string{"common-practice", "hansen-lowinger-1993"},
		look:      gloss,
	},
	{
		ID: "harmful-solvent", Severity: Warn,
		Condition: "Toluene, xylene, diethylbenzene or a chlorinated solvent.",
		Remedy:    "Take another solvent; Koob (1995, 2001) advises against toluene and xylene altogether.",
		Sources:   []string{"koob-1995", "koob-2001"},
		look:      harmful,
	},
}

// fastFrom is the relative evaporation rate, n-butyl acetate = 1, from which a
// solvent counts as fast. Recalled.
const fastFrom = 3

// fast answers whether a liquid evaporates fast.
func (k knowing) fast(solvent string) Answer {
	facts := k.Property(solvent, material.EvaporationRate, "")
	if facts.Preferred == nil {
		return Unknown
	}
	if rate, ok := facts.Preferred.Value.Mid(); ok {
		if rate >= fastFrom {
			return Yes
		}
		return No
	}
	return Unknown
}

// anyFast answers whether one of the liquids evaporates fast.
func (sc *scene) anyFast() (Answer, string) {
	answer := No
	open := ""
	for _, l := range sc.liquids {
		switch sc.knowledge.fast(l.Solvent) {
		case Yes:
			return Yes, l.Solvent
		case Unknown:
			answer, open = Unknown, l.Solvent
		}
	}
	if !sc.liquidsKnown {
		return Unknown, open
	}
	return answer, open
}

// laysFilm tells whether the treatment lays a film or soaks in a resin.
func (sc *scene) laysResin() bool { return len(sc.put) > 0 }

func whitening(sc *scene) {
	if !sc.laysResin() {
		return
	}
	fast, which := sc.anyFast()
	if fast == No {
		return
	}
	e := sc.p.Environment
	surface := e.SurfaceC
	if surface == nil {
		surface = e.AirC
	}
	if e.AirC == nil || e.RelativeHumidity == nil || surface == nil {
		sc.add(Finding{
			Unknown: true,
			Sentence: "The temperature and humidity at which it is applied are not said, so whether a fast film may whiten " +
				"cannot be told.",
		})
		return
	}
	dew, ok := DewPoint(*e.AirC, *e.RelativeHumidity)
	if !ok {
		sc.add(Finding{
			Unknown: true,
			Sentence: "The temperature or humidity lies outside −40 to 50 °C and 0 to 100 %, " +
				"where the dew point formula holds.",
		})
		return
	}
	cooled := *surface - evaporativeCooling
	f := Finding{
		Sentence: sentence("The dew point is %s °C; the surface, cooled by %s K, would be at %s °C", tenth(dew),
			number(evaporativeCooling), tenth(cooled)),
	}
	switch {
	case cooled > dew && fast == Yes:
		f.Sentence = sentence("A film from %s may whiten; the dew point is %s °C and the surface, cooled by %s K, "+
			"stays above it at %s °C", sc.knowledge.name(which), tenth(dew), number(evaporativeCooling), tenth(cooled))
	case cooled > dew:
		sc.clear(f.Sentence, Backing{})
		return
	case fast == Yes:
		f.Severity = Warn
		f.Sentence += " A film from " + sc.knowledge.name(which) + " is likely to whiten."
	default:
		f.Unknown = true
		f.Sentence += " How fast the solvent evaporates is not known; a fast film would be likely to whiten."
	}
	sc.add(f)
}

func warmStore(sc *scene) {
	stand := sc.p.Environment.StoreC
	var held []met
	for _, m := range sc.met {
		if (m.joint() || m.Role.film() || m.Role == Fill) && m.state.mayBeThere() && m.touch != Possibly {
			held = append(held, m)
		}
	}
	var fresh []met
	for i := range sc.put {
		if sc.put[i].joint() || (stand != nil && sc.put[i].Role.film()) {
			fresh = append(fresh, met{index: -1, Layer: &sc.put[i], touch: Fully, state: Present})
		}
	}
	if stand == nil {
		if len(fresh) > 0 {
			sc.add(Finding{
				Unknown: true,
				Sentence: "The highest temperature that the joint will stand is not said, so it cannot be set " +
					"against the evidence.",
			})
		}
		return
	}
	for _, g := range grouped(append(held, fresh...), met.sort) {
		limit := sc.limitOf(g[0].Layer)
		switch {
		case limit.Highest == nil:
			sc.add(Finding{
				Unknown: true,
				Sentence: sentence("No evidence says up to which temperature %s is sound; it is to stand %s °C", sc.these(g),
					number(*stand)),
				Backing: limit.Backing,
			}, old(g)...)
		case *stand > *limit.Highest:
			sc.add(Finding{
				Sentence: sentence("%s is to stand %s °C; the evidence for it reaches %s °C", sc.these(g), number(*stand),
					number(*limit.Highest)),
				Backing: limit.Backing,
			}, old(g)...)
		default:
			sc.clear(sentence("%s is sound up to %s °C by the evidence and is to stand %s °C", sc.these(g),
				number(*limit.Highest), number(*stand)), limit.Backing, old(g)...)
		}
	}
}

// old leaves out the layers that the treatment itself would make: they have no
// record yet.
func old(layers []met) []met {
	var out []met
	for _, m := range layers {
		if m.index >= 0 {
			out = append(out, m)
		}
	}
	return out
}

func workingClimate(sc *scene) {
	if !sc.laysResin() {
		return
	}
	low, high := 15.0, 25.0
	silica := sc.puts(oneOf("ethyl-silicate")) == Yes
	if silica {
		low = 10
	}
	e := sc.p.Environment
	t := e.AirC
	if t == nil {
		t = e.SurfaceC
	}
	switch {
	case t == nil:
		sc.add(Finding{Unknown: true, Sentence: "The temperature at which it is applied is not said."})
	case *t < low || *t > high:
		sc.add(Finding{
			Sentence: sentence("It is applied at %s °C; usual is %s to %s °C", number(*t), number(low), number(high)),
		})
	}
	if !silica {
		return
	}
	switch h := e.RelativeHumidity; {
	case h == nil:
		sc.add(Finding{
			Unknown: true, Sentence: "The humidity at which ethyl silicate is applied is not said; it needs 40 to 70 %.",
		})
	case *h < 40 || *h > 70:
		sc.add(Finding{
			Sentence: sentence("Ethyl silicate is applied at %s %% relative humidity; it needs 40 to 70 %%", number(*h)),
		})
	}
}

func notDry(sc *scene) {
	if !sc.laysResin() {
		return
	}
	relies := sc.puts(sets) != No
	loads := sc.putsRole(Adhesive) && sc.p.CarriesLoad != No
	var plain, relied, open []met
	for _, m := range sc.met {
		if !m.state.mayBeThere() || m.touch == Possibly || !sc.driesBySolvent(m.Layer) {
			continue
		}
		passed := since(m.When, sc.day(sc.p))
		days := sc.settings.BarrierDays
		if passed.certainlyAtLeast(days) || (m.Drying.State == Dried && m.Drying.Days >= days) {
			continue
		}
		unsure := !passed.certainlyLess(days) && m.Drying.State != TouchDry && m.Drying.State != HandlingDry
		switch {
		case (relies && m.Role == Barrier) || (loads && (m.Role == Barrier || m.joint())):
			relied = append(relied, m)
		case unsure:
			open = append(open, m)
		default:
			plain = append(plain, m)
		}
	}
	if len(relied) > 0 {
		sc.add(Finding{
			Severity: Warn,
			Sentence: sentence("%s is not shown to have dried for %s days and a barrier or a loaded joint relies on it",
				sc.these(relied), number(sc.settings.BarrierDays)),
		}, relied...)
	}
	if len(plain) > 0 {
		sc.add(Finding{
			Sentence: sentence("%s is not shown to have dried for %s days; touch-dry is not dry", sc.these(plain),
				number(sc.settings.BarrierDays)),
		}, plain...)
	}
	if len(open) > 0 {
		sc.add(Finding{Unknown: true, Sentence: sentence("How long %s has dried is not known", sc.these(open))}, open...)
	}
}

// driesBySolvent tells whether the layer set, or may have set, by losing a
// solvent.
func (s *Stack) driesBySolvent(l *Layer) bool {
	return l.Identity.may(func(r Ref) bool {
		switch s.knowledge.kind(r.Material) {
		case material.Resin, material.NaturalResin, material.CelluloseEther, "":
			return true
		}
		return false
	}) != No
}

func fastDrying(sc *scene) {
	if !sc.putsRole(Consolidant, PenetratingConsolidant) || sc.p.Drying.Slowed == Yes {
		return
	}
	fast, which := sc.anyFast()
	porous := sc.specimen.Is(Porous)
	switch {
	case fast == No || porous == No:
	case fast == Yes && porous == Yes:
		sc.add(Finding{
			Sentence: sentence("The consolidant comes in %s, which evaporates fast, and drying is not said to be held back; "+
				"resin may be drawn to the surface", sc.knowledge.name(which)),
		})
	default:
		sc.add(Finding{
			Unknown:  true,
			Sentence: "Whether the consolidant dries fast in a porous body cannot be told; resin may be drawn to the surface.",
		})
	}
}

// glossFrom is the strength, in %, from which a consolidant or a coat in one
// go counts as strong: dry bone is given 5 to 10 % (koob-1995, basis as printed).
const glossFrom = 10

func gloss(sc *scene) {
	if !sc.putsRole(Consolidant, Coat) {
		return
	}
	for i := range sc.put {
		l := &sc.put[i]
		if l.Role != Consolidant && l.Role != Coat {
			continue
		}
		switch {
		case l.Strength == nil:
			sc.add(Finding{
				Unknown: true, Sentence: "The strength is not known, so whether it will gloss or darken cannot be told.",
			})
		case percent(*l.Strength) > glossFrom:
			sc.add(Finding{
				Sentence: sentence("The solution is of %s, which is stronger than %d %%; it may gloss and darken the surface",
					l.Strength.said(), glossFrom),
				Sources: sc.knowledge.cite("common-practice", "hansen-lowinger-1993", "koob-1995"),
			})
		case percent(*l.Strength) < glossFrom && percent(l.Strength.most()) > glossFrom:
			sc.add(Finding{
				Unknown: true,
				Sentence: sentence("The solution is of %s; whether it is stronger than %d %%, so that it may gloss or "+
					"darken, cannot be told", l.Strength.said(), glossFrom),
			})
		case math.IsNaN(percent(*l.Strength)):
			sc.add(Finding{
				Unknown: true,
				Sentence: "The strength is not said in a unit that can be compared, so whether it will gloss or darken " +
					"cannot be told.",
			})
		case sc.p.Coats == 1 && l.Role == Coat:
			sc.add(Finding{Sentence: "One coat tends to gloss; several thin ones do less."})
		}
	}
}

// percent reads a strength as grams in 100 mL or per cent as printed, NaN where
// the unit is another. The rules on strength are rough and do not convert.
func percent(s Strength) float64 {
	switch s.Unit {
	case "%", "g/dL", "":
		return s.Value
	case "g/L":
		return s.Value / 10
	}
	return math.NaN()
}

// harmfulClasses are the liquids that harm the people who work with them more than
// others do.
var harmfulClasses = []string{"toluene", "xylene-mixed-isomers", "diethylbenzene", "chlorinated-solvents"}

func harmful(sc *scene) {
	var bad []Share
	for _, l := range sc.liquids {
		for _, c := range harmfulClasses {
			if sc.knowledge.IsA(l.Solvent, c) {
				bad = append(bad, l)
			}
		}
	}
	if len(bad) > 0 {
		sc.add(Finding{Sentence: sentence("The treatment brings %s", sc.knowledge.liquidNames(bad))})
	}
	if !sc.liquidsKnown && len(bad) == 0 && sc.p.bringsLiquid() {
		sc.add(Finding{
			Unknown: true,
			Sentence: "The solvents are not said; whether one of them is toluene, xylene, diethylbenzene or chlorinated " +
				"cannot be told.",
		})
	}
}
