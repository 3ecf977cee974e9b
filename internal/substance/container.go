package substance

import (
	"slices"
	"strings"

	"meniscus/internal/material"
	"meniscus/internal/solution"
)

// ContainerPart finds the material of a part of a container, by its id or its resin
// identification code, and how it resists the solvents.
func (l *Lookup) ContainerPart(
	at string, role solution.PartRole, id, code string, solvents []material.Material,
) solution.ContainerPart {
	part := solution.ContainerPart{Role: role}
	for _, m := range l.Base.Containers() {
		named, coded := id == m.ID, code != "" && code == m.Code
		if !named && !coded {
			continue
		}
		known := solution.ContainerMaterial{Name: m.Name, Ratings: l.ratings(m.ID, solvents)}
		part.Candidates = append(part.Candidates, known)
		l.Named = append(l.Named, m.ID)
		if named {
			part.Said = m.Name
		}
		if coded {
			part.Note = m.Note
		}
	}
	if code != "" {
		part.Said = "resin identification code " + code
		part.Note = l.codeNote(code, part.Note)
	}
	if len(part.Candidates) == 0 {
		l.Faults.Add("container-unknown", at, "No material of containers has this id; /v1/containers lists them.")
	}
	return part
}

// codeNote is the note on what a resin identification code leaves open: that of the
// code itself, or of the only material that bears it.
func (l *Lookup) codeNote(code, ofMaterial string) string {
	note := ofMaterial
	for _, c := range l.Base.ResinCodes() {
		if c.Code == code && c.Note != "" {
			note = c.Note
		}
	}
	if note == "" {
		return ""
	}
	return "Code " + code + ": " + note + "."
}

// knownByReading says how close a source comes, in the core's words. A source on
// solvents in general never decides.
var knownByReading = map[material.Reading]solution.KnownBy{
	material.Named: solution.ReadNamed, material.ByClass: solution.ReadClass, material.NearRelative: solution.ReadClass,
	material.FromMemory: solution.FromMemory,
}

func (l *Lookup) ratings(container string, solvents []material.Material) []solution.ContainerRating {
	var list []solution.ContainerRating
	for _, s := range solvents {
		v := l.Base.ContainerRating(container, s.ID)
		for _, row := range append(v.Rows, v.Others...) {
			known, decides := knownByReading[row.Reading]
			if !decides {
				continue
			}
			list = append(list, solution.ContainerRating{
				Solvent: s.Name, Verdict: solution.Verdict(row.Rating), Known: known,
				Remark: remark(row, v.Of), Source: Cited(row.Evidence),
			})
		}
	}
	return list
}

// remark is what a source says beside its rating, and the class that it rated.
func remark(row material.RatingRow, of string) string {
	if of != "" {
		of = "rated as " + of
	}
	texts := []string{row.Printed, row.Remark, of}
	return strings.Join(slices.DeleteFunc(texts, func(s string) bool { return s == "" }), "; ")
}
