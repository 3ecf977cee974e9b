package layers

import (
	"slices"

	"github.com/google/uuid"

	"meniscus/internal/material"
	"meniscus/internal/quantity"
	"meniscus/internal/record"
	"meniscus/internal/solution"
	"meniscus/internal/stack"
	"meniscus/internal/stock"
)

// uses reads what a treatment used. The stock book tells what was in a supply or a
// batch when the treatment used it.
type uses struct {
	*stock.Book
	treatment string
}

// use reads one thing that was used, said in one of four ways.
func (m uses) use(u *record.Use) stack.Use {
	out := stack.Use{Role: stack.Role(u.Role), Certainty: stack.Documented}
	switch {
	case u.Material != "":
		m.material(&out, u)
	case u.Supply != uuid.Nil:
		out.Supply = u.Supply.String()
		m.held(&out, m.InSupply(u.Supply))
	case u.Batch != uuid.Nil:
		out.Batch = u.Batch.String()
		held := m.Held(u.Batch, m.treatment)
		m.held(&out, held)
		out.ReferenceSample, out.Strength = held.ReferenceSample, strengthOf(held.Strength)
	default:
		m.words(&out, &u.Used)
	}
	return out
}

func (m uses) material(out *stack.Use, u *record.Use) {
	m.add(out, u.Material, u.Grade, 0, "")
	for _, s := range u.Solvents.Value {
		addLiquid(out, stack.Share{Solvent: s.Material, Fraction: deref(s.Fraction).Float64(), By: s.By})
	}
	if u.Strength.Given {
		out.Strength = said(&u.Strength.Value, stack.Stated)
	}
	out.Certainty = stack.Certainty(u.Certainty)
}

// words adds the candidates that the record names, or else those that the tables give
// for such words.
func (m uses) words(out *stack.Use, w *record.Used) {
	out.Verbatim, out.Certainty = w.Words, stack.Certainty(w.Certainty)
	for _, id := range w.Candidates {
		out.Candidates = append(out.Candidates, stack.Ref{Material: id})
	}
	if len(out.Candidates) > 0 || m.Base == nil {
		return
	}
	for _, c := range m.Base.Resolve(w.Words).Candidates {
		out.Candidates = append(out.Candidates, stack.Ref{Material: c.Material, Grade: c.Grade})
	}
}

// held adds what a supply or a batch held. It includes what may have been added only
// after the use; the result is then marked as inferred.
func (m uses) held(out *stack.Use, held stock.Held) {
	out.SolventsOpen = held.Open
	inferred := false
	for _, p := range held.Parts {
		inferred = inferred || p.Possible
		switch {
		case p.Words != "":
			m.words(out, &p.Used)
		case p.Solvent:
			addLiquid(out, stack.Share{Solvent: p.Material, Fraction: p.Fraction, By: string(p.By)})
		default:
			m.add(out, p.Material, p.Grade, p.Fraction, string(p.By))
		}
	}
	if inferred && out.Certainty == stack.Documented {
		out.Certainty = stack.Inferred
	}
}

// add adds a material as a liquid or as a solid, by its kind.
func (m uses) add(out *stack.Use, id, grade string, fraction float64, by string) {
	if m.isLiquid(id) {
		addLiquid(out, stack.Share{Solvent: id, Fraction: fraction, By: by})
		return
	}
	if solid := (stack.Ref{Material: id, Grade: grade}); !slices.Contains(out.Solids, solid) {
		out.Solids = append(out.Solids, solid)
	}
}

// addLiquid adds a liquid once, with the share that comes first: that of the finished
// batch comes before those of what it was made from.
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

// strengthOf gives a batch's strength: as stated where that is a number, else as
// computed from the amounts; nil if unknown.
func strengthOf(s stock.Strength) *stack.Strength {
	if out := said(s.Said, stack.Origin(s.Origin)); out != nil {
		return out
	}
	if s.Basis == "" {
		return nil
	}
	return &stack.Strength{Value: figure(s.Computed.Value), Standard: figure(s.Computed.Standard),
		Unit: string(s.Basis.Unit()), Basis: string(s.Basis), Origin: stack.Origin(s.Origin)}
}

// said reads a strength that is a number with a basis; a ratio of parts is not.
func said(s *record.Strength, origin stack.Origin) *stack.Strength {
	if s == nil || s.Basis == solution.PartsByVolume || s.Basis == solution.PartsByMass || s.Basis == solution.OneIn {
		return nil
	}
	number := s.Number
	out := &stack.Strength{Value: number.Value.Float64(), Basis: string(s.Basis), Origin: origin}
	if s.UnitSaid {
		out.Unit = string(number.Unit)
	}
	if m, err := number.Measured(number.Unit); err == nil {
		out.Standard = m.Standard
	}
	return out
}

// figure rounds a computed number to ten significant digits: far below any balance, and
// without binary rounding errors, which could cross a limit.
func figure(x float64) float64 { return quantity.Significant(x, 10) }
