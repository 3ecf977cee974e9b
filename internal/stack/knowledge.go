package stack

import (
	"slices"
	"sync"

	"meniscus/internal/material"
)

// Knowledge is what this package asks about materials. A material.Base answers
// it; an institution's own materials lie over the built-in ones there.
type Knowledge interface {
	Material(id string) (material.Material, bool)
	Materials(material.Filter) []material.Material
	IsA(id, class string) bool
	Solubility(id, grade, solvent string, age material.Age) material.Solubility
	SolubilityInVapour(id, grade, solvent string, age material.Age) material.Solubility
	SolubilityRows(id string) []material.SolubilityRow
	Reversibility(material.ReversibilityQuery) material.Reversibility
	AnalysisEffects(subject string, role material.Role, analysis string) []material.AnalysisEffect
	Property(id string, p material.Property, grade string) material.Facts
	Hazards(id string) []material.Hazard
	Source(key string) (material.Source, bool)
}

// nothing is empty knowledge: every answer made with it is a warning.
type nothing struct{}

func (nothing) Material(id string) (material.Material, bool)  { return material.Material{}, false }
func (nothing) Materials(material.Filter) []material.Material { return nil }
func (nothing) IsA(id, class string) bool                     { return id == class }
func (nothing) SolubilityRows(string) []material.SolubilityRow {
	return nil
}
func (nothing) Solubility(_, _, _ string, _ material.Age) material.Solubility {
	return material.Solubility{Observed: material.UnknownEffect}
}
func (nothing) SolubilityInVapour(_, _, _ string, _ material.Age) material.Solubility {
	return material.Solubility{Observed: material.UnknownEffect}
}
func (nothing) Reversibility(material.ReversibilityQuery) material.Reversibility {
	none := material.Reasoned{Answer: material.NotKnown}
	return material.Reversibility{Redissolvable: none, Removable: none, Retreatable: none}
}
func (nothing) AnalysisEffects(string, material.Role, string) []material.AnalysisEffect { return nil }
func (nothing) Property(string, material.Property, string) material.Facts               { return material.Facts{} }
func (nothing) Hazards(string) []material.Hazard                                        { return nil }
func (nothing) Source(string) (material.Source, bool) {
	return material.Source{}, false
}

// knowing is Knowledge with the few words that every rule needs.
type knowing struct {
	Knowledge
	mixed []mixture
	seen  *observations
}

// observations cache what was looked up of liquids on materials, for all layers of
// a stack: many mixtures share few materials.
type observations struct {
	mu      sync.Mutex
	known   map[lookedUp]Observation
	effects map[lookedUp]Observed // where the evidence was not asked for
	asked   int                   // how often the tables were asked
	harms   map[string]ranked     // of liquids
}

type lookedUp struct {
	ref     Ref
	solvent string
	age     Ageing
	vapour  bool
}

// The most that is cached, with evidence and without it.
const (
	mostKnown   = 20_000
	mostEffects = 500_000
)

// once gives what is cached, or looks it up.
func (o *observations) once(what lookedUp, lookUp func() Observation) Observation {
	o.mu.Lock()
	defer o.mu.Unlock()
	found, ok := o.known[what]
	if ok {
		return found
	}
	found = lookUp()
	if o.asked++; len(o.known) < mostKnown {
		o.known[what] = found
	}
	return found
}

// effect is once without the evidence.
func (o *observations) effect(what lookedUp, lookUp func() Observation) Observed {
	o.mu.Lock()
	defer o.mu.Unlock()
	if found, ok := o.known[what]; ok {
		return found.Observed
	}
	if saw, ok := o.effects[what]; ok {
		return saw
	}
	saw := lookUp().Observed
	if o.asked++; len(o.effects) < mostEffects {
		o.effects[what] = saw
	}
	return saw
}

// mixture is a named mixture of the tables and what is in it.
type mixture struct {
	id    string
	parts []string
}

func newKnowing(k Knowledge) knowing {
	if k == nil {
		k = nothing{}
	}
	out := knowing{Knowledge: k, seen: &observations{known: map[lookedUp]Observation{}, effects: map[lookedUp]Observed{},
		harms: map[string]ranked{}}}
	for _, m := range k.Materials(material.Filter{Kinds: []material.Kind{material.SolventMixture}}) {
		if len(m.Components) < 2 {
			continue
		}
		x := mixture{id: m.ID}
		for _, c := range m.Components {
			x.parts = append(x.parts, c.Material)
		}
		out.mixed = append(out.mixed, x)
	}
	return out
}

// name is what to call a material or solvent: its generic name, or the
// identifier itself where nothing is known of it.
func (k knowing) name(id string) string {
	if m, ok := k.Material(id); ok && m.Name != "" {
		return m.Name
	}
	return id
}

func (k knowing) kind(id string) material.Kind {
	m, _ := k.Material(id)
	return m.Kind
}

func (k knowing) known(id string) bool {
	_, ok := k.Material(id)
	return ok
}

// parts takes named mixtures apart, so that each liquid is judged by itself.
func (k knowing) parts(shares []Share) []Share {
	var out []Share
	for _, s := range shares {
		i := slices.IndexFunc(k.mixed, func(m mixture) bool { return m.id == s.Solvent })
		if i < 0 {
			out = append(out, s)
			continue
		}
		for _, p := range k.mixed[i].parts {
			out = append(out, Share{Solvent: p})
		}
	}
	return out
}

// anyIsA tells whether one of the liquids is of the class.
func (k knowing) anyIsA(shares []Share, class string) bool {
	return slices.ContainsFunc(shares, func(s Share) bool { return k.IsA(s.Solvent, class) })
}

// waterborne tells whether water is one of the liquids.
func (k knowing) waterborne(shares []Share) bool {
	return k.anyIsA(shares, "water") || k.anyIsA(shares, "hot-water") || k.anyIsA(shares, "alkaline-water")
}

// polar tells whether one of the liquids is polar, water included.
func (k knowing) polar(shares []Share) bool {
	return k.waterborne(shares) || k.anyIsA(shares, "polar-solvents")
}

// trace is the fraction below which a part of a mixture is taken as an impurity
// when mixtures are judged. Common practice.
const trace = 0.05
