package layers

import (
	"slices"

	"meniscus/api"
	"meniscus/internal/material"
	"meniscus/internal/quantity"
	"meniscus/internal/shelf"
	"meniscus/internal/stack"
	"meniscus/internal/values"
)

// uses reads what a treatment used. What was in a supply or a batch when the
// treatment used it, its shelf tells.
type uses struct {
	*shelf.Shelf
	treatment string
}

// use reads one thing that was used, said in one of four ways.
func (m uses) use(u *api.TreatmentUse) stack.Use {
	out := stack.Use{Role: stack.Role(deref(u.Role)), Certainty: stack.Documented}
	switch used := &u.Used; {
	case used.Material != nil:
		m.material(&out, used.Material)
	case used.Words != nil:
		m.words(&out, used.Words)
	case used.Supply != nil:
		out.Supply = used.Supply.Id.String()
		m.held(&out, m.Of(used.Supply.Id))
	case used.Batch != nil:
		out.Batch = used.Batch.Id.String()
		held := m.At(used.Batch.Id, m.treatment)
		m.held(&out, held)
		out.ReferenceSample, out.Strength = held.ReferenceSample, strengthOf(held.Strength)
	}
	return out
}

func (m uses) material(out *stack.Use, used *api.UsedMaterial) {
	m.add(out, used.Id, deref(used.Grade), 0, "")
	for _, s := range deref(used.Solvents) {
		share := stack.Share{Solvent: s.Id, Fraction: deref(s.Fraction).Float64(), By: string(deref(s.FractionBy))}
		addLiquid(out, share)
	}
	out.Strength = said(used.Strength, stack.Stated)
	if used.Certainty != nil {
		out.Certainty = stack.Certainty(*used.Certainty)
	}
}

// words takes the candidates that the record names, or else what the tables
// say that such words may mean.
func (m uses) words(out *stack.Use, w *api.Words) {
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

// held takes what a supply or a batch held. What may have gone in only
// afterwards is reckoned with, and the whole is then inferred.
func (m uses) held(out *stack.Use, held shelf.Held) {
	out.SolventsOpen = held.Open
	inferred := false
	for _, p := range held.Parts {
		inferred = inferred || p.Possible
		switch {
		case p.Words != nil:
			m.words(out, p.Words)
		case p.Solvent:
			addLiquid(out, stack.Share{Solvent: p.Material.Id, Fraction: p.Fraction, By: string(p.By)})
		default:
			m.add(out, p.Material.Id, deref(p.Material.Grade), p.Fraction, string(p.By))
		}
	}
	if inferred && out.Certainty == stack.Documented {
		out.Certainty = stack.Inferred
	}
}

// add takes a material as a liquid or as a solid, by what kind it is.
func (m uses) add(out *stack.Use, id, grade string, fraction float64, by string) {
	if m.isLiquid(id) {
		addLiquid(out, stack.Share{Solvent: id, Fraction: fraction, By: by})
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

func (m uses) isLiquid(id string) bool {
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

// strengthOf gives a batch's strength: as it was said where that is a number, else
// as it comes of the amounts; nil where nobody knows it.
func strengthOf(s shelf.Strength) *stack.Strength {
	if out := said(s.Said, stack.Origin(s.Origin)); out != nil {
		return out
	}
	if s.Basis == "" {
		return nil
	}
	return &stack.Strength{Value: figure(s.Computed.Value), Standard: figure(s.Computed.Standard), Unit: string(s.Basis.Unit()), Basis: string(s.Basis), Origin: stack.Origin(s.Origin)}
}

// said reads a strength that is a number with a basis; a ratio of parts is not.
func said(s *api.Strength, origin stack.Origin) *stack.Strength {
	if s == nil || s.Value == nil {
		return nil
	}
	var reader values.Reader
	number := reader.Recorded("", *s).Number
	out := &stack.Strength{Value: s.Value.Float64(), Unit: deref(s.Unit), Basis: string(s.Basis), Origin: origin}
	if m, err := number.Measured(number.Unit); err == nil {
		out.Standard = m.Standard
	}
	return out
}

// Strength writes a layer's strength as the contract has it.
func Strength(s *stack.Strength) *api.LayerStrength {
	if s == nil {
		return nil
	}
	out := &api.LayerStrength{Value: s.Value, Basis: api.StrengthBasis(s.Basis), Origin: api.LayerStrengthOrigin(s.Origin)}
	if s.Unit != "" {
		out.Unit = &s.Unit
	}
	if m := (quantity.Measured{Standard: s.Standard}); s.Standard > 0 {
		out.Uncertainty = &api.ComputedUncertainty{Standard: figure(m.Standard), Expanded: figure(m.Expanded()), K: quantity.Coverage}
	}
	return out
}

// figure rounds a computed number to ten significant digits: far below any
// balance, and without the dust of binary fractions, which a limit would feel.
func figure(x float64) float64 { return quantity.Significant(x, 10) }
