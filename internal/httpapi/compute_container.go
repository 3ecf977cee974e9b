package httpapi

import (
	"strings"

	"meniscus/api"
	"meniscus/internal/material"
	"meniscus/internal/solution"
	"meniscus/internal/substance"
)

// computeContainer answers whether solvents may stand in a container.
func computeContainer(s *Server, c *call) (*answer, error) {
	in, request, err := asked[api.ContainerRequest](s, c)
	if err != nil {
		return nil, err
	}
	solvents := in.solventsWithParts(request.Solvents)
	q := solution.ContainerQuestion{Parts: []solution.ContainerPart{in.containerPart(solution.Body, request.Body, solvents)}}
	for _, m := range solvents {
		q.Solvents = append(q.Solvents, m.Name)
	}
	if request.Closure != nil {
		q.Parts = append(q.Parts, in.containerPart(solution.Closure, *request.Closure, solvents))
	}
	if request.Liner != nil {
		q.Parts = append(q.Parts, in.containerPart(solution.Liner, *request.Liner, solvents))
	}
	if err := in.Faults.Err(); err != nil {
		return nil, err
	}
	a, err := solution.JudgeContainer(q)
	if err != nil {
		return nil, err
	}
	return ok(api.ContainerAnswer{
		Verdict: api.ContainerVerdict(a.Verdict), KnownBy: knownBy(a.Known), Parts: each(a.Parts, partVerdict),
		Steps: steps(a.Steps), Advice: advice(a.Advice),
	})
}

// solventsWithParts finds the solvents; a mixture whose parts are known counts as
// its parts, for what the container stands of each.
func (a *asking) solventsWithParts(ids []string) []material.Material {
	var list []material.Material
	seen := map[string]bool{}
	add := func(m material.Material) {
		if !seen[m.ID] {
			seen[m.ID] = true
			list = append(list, m)
		}
	}
	for i, id := range ids {
		m, known := a.pureSolvent(item("/solvents", i), id)
		if !known {
			continue
		}
		parts := 0
		for _, part := range m.Components {
			if p, known := a.Base.Material(part.Material); known && p.Kind == material.Solvent && m.Kind == material.SolventMixture {
				add(p)
				parts++
			}
		}
		if parts == 0 {
			add(m)
		}
	}
	return list
}

// containerPart finds what a part is made of.
func (a *asking) containerPart(role solution.PartRole, p api.ContainerPart, solvents []material.Material) solution.ContainerPart {
	part := solution.ContainerPart{Role: role}
	pointer := "/" + string(role)
	for _, m := range a.Base.Containers() {
		named := p.Material != nil && *p.Material == m.ID
		coded := p.Code != nil && *p.Code == m.Code
		if !named && !coded {
			continue
		}
		part.Candidates = append(part.Candidates, solution.ContainerMaterial{Name: m.Name, Ratings: a.ratings(m.ID, solvents)})
		if named {
			part.Said = m.Name
		}
		if coded {
			part.Note = m.Note
		}
	}
	if p.Code != nil {
		part.Said = "resin identification code " + *p.Code
		part.Note = a.codeNote(*p.Code, part.Note)
	}
	if len(part.Candidates) == 0 {
		a.Faults.Add("container-unknown", pointer, "No material of containers has this id; /v1/containers lists them.")
	}
	return part
}

// codeNote says what a resin identification code leaves open: of the code itself, or
// of the only material that bears it.
func (a *asking) codeNote(code, ofMaterial string) string {
	note := ofMaterial
	for _, c := range a.Base.ResinCodes() {
		if c.Code == code && c.Note != "" {
			note = c.Note
		}
	}
	if note == "" {
		return ""
	}
	return "Code " + code + ": " + note + "."
}

// knownByReading says how close a source comes, in the core's words. What speaks
// of solvents in general never decides.
var knownByReading = map[material.Reading]solution.KnownBy{
	material.Named: solution.Read, material.ByClass: solution.ReadClass, material.NearRelative: solution.ReadClass, material.FromMemory: solution.FromMemory,
}

func (a *asking) ratings(container string, solvents []material.Material) []solution.ContainerRating {
	var list []solution.ContainerRating
	for _, s := range solvents {
		v := a.Base.ContainerRating(container, s.ID)
		for _, row := range append(v.Rows, v.Others...) {
			known, decides := knownByReading[row.Reading]
			if !decides {
				continue
			}
			list = append(list, solution.ContainerRating{
				Solvent: s.Name, Verdict: solution.Verdict(row.Rating), Known: known,
				Remark: strings.Join(nonEmpty(row.Printed, row.Remark, broader(v.Of)), "; "), Source: substance.Cited(row.Evidence),
			})
		}
	}
	return list
}

func broader(of string) string {
	if of == "" {
		return ""
	}
	return "rated as " + of
}

func knownBy(k solution.KnownBy) api.KnownBy {
	if k == solution.NotKnown {
		return "unknown"
	}
	return api.KnownBy(k)
}

func partVerdict(v solution.PartVerdict) api.ContainerPartVerdict {
	return api.ContainerPartVerdict{
		Part: api.PartOfContainer(v.Role), Said: v.Said, Verdict: api.ContainerVerdict(v.Verdict), KnownBy: knownBy(v.Known), Sentence: v.Sentence,
		Materials: each(v.Materials, func(m solution.MaterialVerdict) api.ContainerMaterialVerdict {
			return api.ContainerMaterialVerdict{
				Material: m.Material, Verdict: api.ContainerVerdict(m.Verdict), KnownBy: knownBy(m.Known), Solvents: each(m.Solvents, solventVerdict),
			}
		}),
	}
}

func solventVerdict(v solution.SolventVerdict) api.ContainerSolventVerdict {
	return api.ContainerSolventVerdict{
		Solvent: v.Solvent, Verdict: api.ContainerVerdict(v.Verdict), KnownBy: knownBy(v.Known),
		Readings: each(v.Readings, func(x solution.ContainerRating) api.ContainerVerdictReading {
			return api.ContainerVerdictReading{Verdict: api.ContainerVerdict(x.Verdict), KnownBy: knownBy(x.Known), Remark: said(x.Remark), Source: cited(x.Source)}
		}),
	}
}

func nonEmpty(texts ...string) []string {
	var kept []string
	for _, t := range texts {
		if t != "" {
			kept = append(kept, t)
		}
	}
	return kept
}
