package stack

import (
	"fmt"
	"slices"

	"meniscus/internal/material"
)

// layeringRules ask whether the new layer may lie where it is to lie.
var layeringRules = []Rule{
	{
		ID: "joint-may-be-starved", Severity: Info,
		Condition: "A join on a porous body without an earlier consolidant or primer in the area: the joint may be starved.",
		Remedy:    "Consolidate dilute first and let it dry, or lay a thin primer on the breaks.",
		Sources:   []string{"distlist-2009", "distlist-2011"},
		look:      starvedJoint,
	},
	{
		ID: "top-coat-disturbs-base-coat", Severity: Warn,
		Condition: "A label's top coat whose solvent dissolves the base coat or the ink, or that goes over a base coat " +
			"which is not dry.",
		Remedy: "Take another solvent for the top coat (acrylic copolymer in acetone below and poly(isobutyl " +
			"methacrylate) in naphtha above are in use), and wait.",
		Sources: []string{"fossil-repository-numbering", "museum-forum-marking"},
		look:    topCoat,
	},
	{
		ID: "reacting-resin-without-barrier", Severity: Warn,
		Condition: "A reacting resin (epoxy, polyester) on an area without a recorded barrier on both faces: " +
			"the area becomes practically irreversible.",
		Remedy: "Lay a barrier first: thin, continuous and dried. Tested: acrylic copolymer 17 % in acetone, poly(vinyl " +
			"butyral) 10 % in ethanol; poly(isobutyl methacrylate) failed in strength and in reversal.",
		Sources: []string{"podany-2001", "ellis-heginbotham-2004"},
		look:    barrierNeeded,
	},
	{
		ID: "barrier-not-tied-to-resin", Severity: Info,
		Condition: "A barrier lies under a reacting resin and the record does not tie the two.",
		Remedy:    "Record the relation barrier-for, so that the plan knows that the barrier's solvent opens the joint.",
		Sources:   []string{"podany-2001", "ellis-heginbotham-2004"},
		look:      barrierLinked,
	},
	{
		ID: "polar-treatment-over-wax", Severity: Warn,
		Condition: "Wax is present in the area and the new treatment is polar or water-borne.",
		Remedy: "Take the wax off first with an aliphatic solvent; wax that was driven in hot cannot be got off, " +
			"and the record should say so.",
		Sources: []string{"furniture-conservator-2012", "common-practice"},
		look:    overWax,
	},
	{
		ID: "ethyl-silicate-with-water-or-resin", Severity: Warn,
		Condition: "A water-borne treatment over ethyl silicate within eight weeks, or ethyl silicate into pores " +
			"that a resin fills.",
		Remedy:  "Wait until the surface wets; for filled pores there is no remedy.",
		Sources: []string{"ethyl-silicate-2019", "common-practice"},
		look:    silicate,
	},
	{
		ID: "alkali-over-layer-it-breaks-down", Severity: Warn,
		Condition: "Lime or alkaline water over cyanoacrylate, poly(vinyl acetate) or cellulose nitrate.",
		Remedy:    "Avoid it.",
		Sources:   []string{"recalled"},
		look:      alkaline,
	},
	{
		ID: "coating-over-cyclododecane", Severity: Warn,
		Condition: "A coating over cyclododecane before it has had time to sublime, or cyclododecane on a dirty sherd " +
			"laden with salts.",
		Remedy:  "Wait until it has sublimed and verify by weight; clean the sherd first.",
		Sources: []string{"stein-2000", "dittus-2018"},
		look:    subliming,
	},
	{
		ID: "dispersion-over-solvent-resin", Severity: Info,
		Condition: "A dispersion over a solvent resin: the stack is then only as removable as the dispersion, " +
			"which penetrates little.",
		Remedy:  "Say so in the plan.",
		Sources: []string{"diaz-cortes-2022", "koob-mammoth"},
		look:    dispersionOver,
	},
}

// ofKind is a test for materials of one kind.
func (k knowing) ofKind(kind material.Kind) func(Ref) bool {
	return func(r Ref) bool { return k.kind(r.Material) == kind }
}

// oneOf is a test for materials by name.
func oneOf(ids ...string) func(Ref) bool {
	return func(r Ref) bool { return slices.Contains(ids, r.Material) }
}

// sets is a test for resins that set by reaction into a network that no solvent
// takes apart. Cyanoacrylate sets by reaction too, but the rules on barriers are
// about epoxy and polyester.
var sets = oneOf("epoxy-bisphenol-a-amine", "unsaturated-polyester-styrene")

// puts answers whether the treatment lays a material that passes the test.
func (sc *scene) puts(is func(Ref) bool) Answer {
	answer := No
	for _, l := range sc.put {
		switch l.Identity.may(is) {
		case Yes:
			return Yes
		case Unknown:
			answer = Unknown
		}
	}
	return answer
}

// putsRole tells whether one of the treatment's layers has the role.
func (sc *scene) putsRole(roles ...Role) bool {
	return slices.ContainsFunc(sc.put, func(l Layer) bool { return slices.Contains(roles, l.Role) })
}

// those picks the reached layers that are, and that may be, of such a material: one of several
// that a card may mean. A completely unknown layer may be anything; the rule on unknown layers
// says so once for all rules. Layers that were not found any more are left out.
func (sc *scene) those(is func(Ref) bool) (sure, perhaps []met) {
	for _, m := range sc.met {
		if !m.state.mayBeThere() || sc.isRemoved(m) {
			continue
		}
		switch m.Identity.may(is) {
		case Yes:
			sure = append(sure, m)
		case Unknown:
			if m.Identity.Named() {
				perhaps = append(perhaps, m)
			}
		}
	}
	return sure, perhaps
}

func withRole(layers []met, roles ...Role) []met {
	var out []met
	for _, m := range layers {
		if slices.Contains(roles, m.Role) {
			out = append(out, m)
		}
	}
	return out
}

func starvedJoint(sc *scene) {
	if sc.p.Action != Joining && !sc.putsRole(Adhesive) {
		return
	}
	primed := withRole(sc.met, Consolidant, PenetratingConsolidant, Coat, Barrier)
	porous := sc.specimen.Is(Porous)
	switch {
	case len(primed) > 0:
		sc.clear("An earlier consolidant, coat or barrier is recorded in the area.", Backing{}, primed...)
	case porous == Yes:
		sc.add(Finding{
			Sentence: "The body is porous and no consolidant or primer is recorded in the area, so the joint may be starved.",
		})
	case porous == No:
		sc.clear("The body is not porous.", Backing{})
	default:
		sc.add(Finding{
			Unknown: true, Traits: []Trait{Porous},
			Sentence: "Whether the body is porous is not known, and no consolidant or primer is recorded in the area.",
		})
	}
}

func topCoat(sc *scene) {
	if !sc.putsRole(LabelTop) {
		return
	}
	below := withRole(sc.met, LabelBase, Ink)
	type key struct {
		sort     layerSort
		observed Observed
	}
	for _, g := range grouped(below, func(m met) key { o, _ := sc.verdict(m); return key{m.sort(), o.Observed} }) {
		o, liquid := sc.verdict(g[0])
		switch {
		case !sc.liquidsKnown && len(sc.liquids) == 0:
			sc.add(Finding{
				Unknown:  true,
				Sentence: sentence("The solvent of the top coat is not said, so what it does to %s cannot be told", sc.these(g)),
			}, g...)
		case o.Observed.disturbs():
			sc.add(Finding{Sentence: sentence("%s %s %s", sc.knowledge.name(liquid), observedVerbs[o.Observed], sc.these(g)),
				Backing: o.Backing}, g...)
		case o.Observed.open():
			sc.add(Finding{
				Unknown:  true,
				Sentence: sentence("What %s does to %s is not known", sc.knowledge.liquidNames(sc.liquids), sc.these(g)),
			}, g...)
		default:
			sc.clear(sentence("%s leaves %s as it is", sc.knowledge.liquidNames(sc.liquids), sc.these(g)), o.Backing, g...)
		}
	}
	sc.dryEnough(withRole(below, LabelBase), 1)
}

// dryEnough files a finding where layers that something is to rely on have not
// surely dried for the given days.
func (sc *scene) dryEnough(layers []met, days float64) {
	for _, g := range sc.alikeNow(layers, days) {
		m := g[0]
		dried := since(m.When, sc.day(sc.p))
		switch {
		case m.Drying.State == Dried && m.Drying.Days >= days, dried.certainlyAtLeast(days):
			sc.clear(sentence("%s has dried for at least %s days", sc.these(g), number(days)), Backing{}, g...)
		case dried.certainlyLess(days) || m.Drying.State == TouchDry || m.Drying.State == HandlingDry:
			sc.add(Finding{
				Sentence: sentence("%s is not shown to have dried for %s days (recorded as %s)", sc.these(g), number(days),
					saidOr(m.Drying.State, "not said")),
			}, g...)
		default:
			sc.add(Finding{Unknown: true, Sentence: sentence("How long %s has dried is not known", sc.these(g))}, g...)
		}
	}
}

func overWax(sc *scene) {
	if !sc.watches() {
		return
	}
	polar := sc.knowledge.polar(sc.liquids)
	if !polar && sc.liquidsKnown {
		return
	}
	sure, perhaps := sc.those(sc.knowledge.ofKind(material.Wax))
	if len(sure) > 0 {
		f := Finding{
			Sentence: sentence("Wax is recorded in the area (%s) and the treatment is polar or water-borne", sc.these(sure)),
		}
		if !polar {
			f.Unknown, f.Sentence = true, sentence("Wax is recorded in the area (%s) and whether the treatment is polar or "+
				"water-borne is not said", sc.these(sure))
		}
		if len(withRole(sure, Consolidant, PenetratingConsolidant)) > 0 {
			f.Sentence += " It was driven into the body: it can never be got off in full."
		}
		sc.add(f, sure...)
	}
	if len(perhaps) > 0 {
		sc.add(Finding{
			Unknown: true, Sentence: "An earlier layer may be wax, which would keep a polar or water-borne treatment out.",
		}, perhaps...)
	}
}

// silicateWeeks is how long cured ethyl silicate keeps water off: "up to 8
// weeks" in the source.
const silicateWeeks = 8

func silicate(sc *scene) {
	is := oneOf("ethyl-silicate")
	sure, perhaps := sc.those(is)
	if sc.knowledge.waterborne(sc.liquids) {
		for _, g := range sc.alikeNow(sure, silicateWeeks*7) {
			passed := since(g[0].When, sc.day(sc.p))
			switch {
			case passed.certainlyAtLeast(silicateWeeks * 7):
				sc.clear(sentence("%s is older than %d weeks", sc.these(g), silicateWeeks), Backing{}, g...)
			case passed.certainlyLess(silicateWeeks * 7):
				sc.add(Finding{
					Sentence: sentence("Water is brought over %s within %d weeks; it keeps water off that long", sc.these(g),
						silicateWeeks),
				}, g...)
			default:
				sc.add(Finding{
					Unknown: true,
					Sentence: sentence("How old %s is when water is brought over it is not known; "+
						"it keeps water off for up to %d weeks", sc.these(g), silicateWeeks),
				}, g...)
			}
		}
		if len(perhaps) > 0 {
			sc.add(Finding{
				Unknown: true, Sentence: "An earlier layer may be ethyl silicate, which keeps water off for some weeks.",
			}, perhaps...)
		}
	}
	if sc.puts(is) == No {
		return
	}
	filled := withRole(sc.met, Consolidant, PenetratingConsolidant)
	if len(filled) > 0 {
		sc.add(Finding{
			Unknown: sc.puts(is) == Unknown, Sentence: sentence("Ethyl silicate goes into pores that hold %s", sc.these(filled)),
		}, filled...)
	}
}

// hydrolysed are the materials that alkali is feared to break down.
var hydrolysed = oneOf("ethyl-cyanoacrylate", "poly-vinyl-acetate-resin", "poly-vinyl-acetate-dispersion",
	"cellulose-nitrate")

// alkalinePH is the pH from which a bath counts as alkaline. Common practice.
const alkalinePH = 8

func alkaline(sc *scene) {
	lime := sc.puts(oneOf("calcium-hydroxide-nanolime"))
	ph := sc.p.Environment.PH
	basic := sc.knowledge.anyIsA(sc.liquids, "alkaline-water") || lime == Yes || (ph != nil && *ph > alkalinePH)
	open := lime == Unknown && len(sc.put) > 0 && sc.knowledge.waterborne(sc.liquids)
	if !basic && !open {
		return
	}
	sure, perhaps := sc.those(hydrolysed)
	if len(sure) > 0 {
		sc.add(Finding{
			Unknown:  !basic,
			Sentence: sentence("Lime or alkaline water comes over %s, which it is feared to break down", sc.these(sure)),
		}, sure...)
	}
	if len(perhaps) > 0 {
		sc.add(Finding{
			Unknown: true,
			Sentence: "An earlier layer may be cyanoacrylate, poly(vinyl acetate) or cellulose nitrate, " +
				"which alkali is feared to break down.",
		}, perhaps...)
	}
}

func subliming(sc *scene) {
	volatile := sc.knowledge.ofKind(material.VolatileBinder)
	if len(sc.put) > 0 {
		sure, perhaps := sc.those(volatile)
		type key struct {
			sort    layerSort
			undated bool
		}
		for _, g := range grouped(sure, func(m met) key { return key{m.sort(), m.When.From.IsZero()} }) {
			f := Finding{Sentence: sentence("%s is closed in before it has had time to sublime", sc.these(g))}
			if g[0].When.From.IsZero() {
				f.Unknown, f.Sentence = true, sentence("Whether %s has had time to sublime is not known", sc.these(g))
			}
			sc.add(f, g...)
		}
		if len(perhaps) > 0 {
			sc.add(Finding{Unknown: true, Sentence: "An earlier layer may be cyclododecane that has not sublimed."}, perhaps...)
		}
	}
	if sc.puts(volatile) != Yes || sc.specimen.BodyKind != "ceramic" {
		return
	}
	switch sc.specimen.Is(ActiveSalts) {
	case Yes:
		sc.add(Finding{Sentence: "Cyclododecane goes on a sherd laden with salts; a residue was seen on such sherds."})
	case Unknown:
		sc.add(Finding{
			Unknown: true,
			Sentence: "Cyclododecane goes on a sherd, and whether it holds salts is not known; " +
				"a residue was seen on such sherds.",
		})
	default:
		sc.clear("The sherd holds no active salts.", Backing{})
	}
}

func dispersionOver(sc *scene) {
	dispersion := sc.puts(sc.knowledge.ofKind(material.Dispersion))
	if dispersion == No {
		return
	}
	sure, _ := sc.those(sc.knowledge.ofKind(material.Resin))
	if len(sure) > 0 {
		text := fmt.Sprintf("A dispersion goes over %s: the stack is then only as removable as the dispersion",
			sc.these(sure))
		if dispersion == Unknown {
			text = fmt.Sprintf("What goes over %s may be a dispersion: the stack would then be only as removable as that",
				sc.these(sure))
		}
		sc.add(Finding{Unknown: dispersion == Unknown, Sentence: sentence("%s", text)}, sure...)
	}
}
