package layers

import (
	"slices"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/material"
	"meniscus/internal/stack"
)

// Mixtures tells what was in the supplies and batches that treatments used.
type Mixtures struct {
	Supplies map[uuid.UUID]*api.SupplyStatement
	Batches  map[uuid.UUID]*api.BatchStatement
	Base     *material.Base
}

// use reads what a treatment used, said in one of four ways.
func (m Mixtures) use(u *api.TreatmentUse) stack.Use {
	out := stack.Use{Role: stack.Role(deref(u.Role))}
	switch used := &u.Used; {
	case used.Material != nil:
		m.material(&out, used.Material)
	case used.Words != nil:
		m.words(&out, used.Words)
	case used.Supply != nil:
		out.Supply, out.Certainty = used.Supply.Id.String(), stack.Documented
		m.supply(&out, used.Supply.Id)
	case used.Batch != nil:
		out.Batch, out.Certainty = used.Batch.Id.String(), stack.Documented
		m.batch(&out, used.Batch.Id, map[uuid.UUID]bool{})
		out.Strength = m.strengthOf(used.Batch.Id, 0)
	}
	return out
}

func (m Mixtures) material(out *stack.Use, used *api.UsedMaterial) {
	m.add(out, used.Id, deref(used.Grade))
	for _, s := range deref(used.Solvents) {
		addLiquid(out, share(s))
	}
	out.Strength = strength(used.Strength)
	out.Certainty = stack.Documented
	if used.Certainty != nil {
		out.Certainty = stack.Certainty(*used.Certainty)
	}
}

// words takes the candidates that the record names, or else what the tables
// say that such words may mean.
func (m Mixtures) words(out *stack.Use, w *api.Words) {
	out.Verbatim, out.Certainty = w.Verbatim, stack.Certainty(w.Certainty)
	for _, id := range deref(w.Candidates) {
		out.Candidates = append(out.Candidates, stack.Ref{Material: id})
	}
	if len(out.Candidates) > 0 || m.Base == nil {
		return
	}
	for _, c := range m.Base.Resolve(w.Verbatim).Candidates {
		out.Candidates = append(out.Candidates, stack.Ref{Material: c.Material, Grade: c.Grade})
	}
}

// add takes a material as a liquid or as a solid, by what kind it is.
func (m Mixtures) add(out *stack.Use, id, grade string) {
	if m.isLiquid(id) {
		addLiquid(out, stack.Share{Solvent: id})
		return
	}
	if solid := (stack.Ref{Material: id, Grade: grade}); !slices.Contains(out.Solids, solid) {
		out.Solids = append(out.Solids, solid)
	}
}

// addLiquid takes a liquid once, with the share that was said first: the one of the
// finished batch, before those of what it was made from.
func addLiquid(out *stack.Use, s stack.Share) {
	if !slices.ContainsFunc(out.Solvents, func(there stack.Share) bool { return there.Solvent == s.Solvent }) {
		out.Solvents = append(out.Solvents, s)
	}
}

func (m Mixtures) isLiquid(id string) bool {
	if m.Base == nil {
		return false
	}
	found, _ := m.Base.Material(id)
	switch found.Kind {
	case material.Solvent, material.SolventMixture, material.Reagent:
		return true
	}
	return false
}

func (m Mixtures) supply(out *stack.Use, id uuid.UUID) {
	s := m.Supplies[id]
	if s == nil {
		out.SolventsOpen = true
		return
	}
	m.add(out, s.Material.Id, deref(s.Material.Grade))
}

// batch follows a batch to all that went in, through the batches that it was
// made from. What cannot be followed leaves the liquids open.
func (m Mixtures) batch(out *stack.Use, id uuid.UUID, seen map[uuid.UUID]bool) {
	b := m.Batches[id]
	if b == nil || seen[id] {
		out.SolventsOpen = true
		return
	}
	seen[id] = true
	if b.ReferenceSample != nil && out.ReferenceSample == "" {
		out.ReferenceSample = deref(b.ReferenceSample.Text)
	}
	for _, s := range deref(b.Solvents) {
		addLiquid(out, share(s))
	}
	for _, in := range deref(b.Inputs) {
		m.input(out, &in, seen)
	}
}

func (m Mixtures) input(out *stack.Use, in *api.BatchInput, seen map[uuid.UUID]bool) {
	switch from := &in.From; {
	case from.Supply != nil:
		m.supply(out, from.Supply.Id)
	case from.Batch != nil:
		m.batch(out, from.Batch.Id, seen)
	case from.Material != nil:
		m.add(out, from.Material.Id, deref(from.Material.Grade))
	case from.Words != nil && in.Part == "solvent":
		out.SolventsOpen = true
	case from.Words != nil:
		m.words(out, from.Words)
		out.Certainty = stack.Certainty(from.Words.Certainty)
	}
}

func share(s api.SolventShare) stack.Share {
	out := stack.Share{Solvent: s.Id}
	if s.Fraction != nil {
		out.Fraction = s.Fraction.Float64()
	}
	return out
}

// strengthOf is what a batch says of its strength: the label, or the recipe, or,
// of a bottle, what it was filled from.
func (m Mixtures) strengthOf(id uuid.UUID, depth int) *stack.Strength {
	b := m.Batches[id]
	if b == nil || depth > 20 {
		return nil
	}
	if s := strength(b.LabelStrength); s != nil {
		return s
	}
	if b.Recipe != nil && b.Recipe.Strength != nil {
		return strength(b.Recipe.Strength)
	}
	if in := deref(b.Inputs); b.Kind == "bottle" && len(in) == 1 && in[0].From.Batch != nil {
		return m.strengthOf(in[0].From.Batch.Id, depth+1)
	}
	return nil
}

func strength(s *api.Strength) *stack.Strength {
	if s == nil || s.Value == nil {
		return nil
	}
	return &stack.Strength{Value: s.Value.Float64(), Unit: deref(s.Unit), Basis: string(s.Basis)}
}
