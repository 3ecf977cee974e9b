package calculation

import (
	"meniscus/api"
	"meniscus/internal/material"
	"meniscus/internal/solution"
)

// Container says whether solvents may stand in a container.
var Container = computation((*reader).container, solution.JudgeContainer, writer.container)

func (r *reader) container(q api.ContainerRequest) solution.ContainerQuestion {
	solvents := r.SolventsWithParts("/solvents", q.Solvents)
	out := solution.ContainerQuestion{Solvents: each(solvents, func(m material.Material) string { return m.Name })}
	for _, part := range []struct {
		role solution.PartRole
		said *api.ContainerPart
	}{{solution.Body, &q.Body}, {solution.Closure, q.Closure}, {solution.Liner, q.Liner}} {
		if p := part.said; p != nil {
			of := r.ContainerPart("/"+string(part.role), part.role, deref(p.Material), deref(p.Code), solvents)
			out.Parts = append(out.Parts, of)
		}
	}
	return out
}

func (w writer) container(a solution.ContainerAnswer) api.ContainerAnswer {
	return api.ContainerAnswer{
		Answer: a.Answer, Verdict: api.ContainerVerdict(a.Verdict), KnownBy: knownBy(a.Known),
		Parts: each(a.Parts, w.partVerdict),
		Steps: texts(a.Steps), Advice: w.advice(a.Advice),
	}
}

func knownBy(k solution.KnownBy) api.KnownBy {
	if k == solution.NotKnown {
		return "unknown"
	}
	return api.KnownBy(k)
}

func (w writer) partVerdict(v solution.PartVerdict) api.ContainerPartVerdict {
	out := api.ContainerPartVerdict{
		Part: api.PartOfContainer(v.Role), Said: v.Said, Verdict: api.ContainerVerdict(v.Verdict),
		KnownBy: knownBy(v.Known),
	}
	if w.full {
		out.Sentence, out.Materials = &v.Sentence, new(each(v.Materials, w.materialVerdict))
	}
	return out
}

func (w writer) materialVerdict(m solution.MaterialVerdict) api.ContainerMaterialVerdict {
	return api.ContainerMaterialVerdict{
		Material: m.Material, Verdict: api.ContainerVerdict(m.Verdict), KnownBy: knownBy(m.Known),
		Solvents: each(m.Solvents, w.solventVerdict),
	}
}

func (w writer) solventVerdict(v solution.SolventVerdict) api.ContainerSolventVerdict {
	return api.ContainerSolventVerdict{
		Solvent: v.Solvent, Verdict: api.ContainerVerdict(v.Verdict), KnownBy: knownBy(v.Known),
		Readings: each(v.Readings, func(x solution.ContainerRating) api.ContainerVerdictReading {
			return api.ContainerVerdictReading{
				Verdict: api.ContainerVerdict(x.Verdict), KnownBy: knownBy(x.Known), Remark: said(x.Remark),
				Source: x.Source.ID,
			}
		}),
	}
}
