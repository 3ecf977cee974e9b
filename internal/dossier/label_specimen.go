package dossier

import (
	"fmt"
	"strings"

	"github.com/google/uuid"

	"meniscus/internal/label"
	"meniscus/internal/record"
	"meniscus/internal/stack"
)

// maxLabelAreas is how many areas a label names.
const maxLabelAreas = 3

// SpecimenLabel is what is on record of a specimen for its label. The hazards are those
// of about; a retracted specimen, with its reason, is given as it was last stated.
// Stands is the record that stands for it.
func (d *Dossier) SpecimenLabel(
	id, stands uuid.UUID, about *stack.Specimen, retracted bool, reason string,
) label.Specimen {
	hazards := about.ReadHazards()
	said, known := said[*record.Specimen](d, id)
	out := label.Specimen{
		Owner: d.institution, Address: d.base.Specimen(id), Hazards: hazards.Spoken(), Open: hazards.Open(),
		Notices: noticesOf(retracted, reason, known),
	}
	if stands != id {
		out.Notices = append(out.Notices, "MERGED: "+d.titleOf(stands)+" stands for the specimen")
	}
	if !known {
		return out
	}
	out.Number = said.Title()
	switch {
	case said.Part != nil:
		out.Origin = "Part of " + d.titleOf(said.Part.Specimen) + areasWords(said.Part.Areas.Value)
		if taken := said.Part.Split.Value; !taken.IsZero() {
			out.Taken = taken.Words()
		}
	case said.SampleOf != nil:
		out.Origin = "Sample of " + d.titleOf(said.SampleOf.Specimen)
		if said.SampleOf.Area != "" {
			out.Origin += areasWords([]string{said.SampleOf.Area})
		}
	}
	return out
}

// areasWords are the areas that it was taken from, or "".
func areasWords(paths []string) string {
	named := strings.Join(paths[:min(len(paths), maxLabelAreas)], ", ")
	switch more := len(paths) - maxLabelAreas; {
	case len(paths) == 0:
		return ""
	case len(paths) == 1:
		return ", area " + named
	case more > 0:
		return fmt.Sprintf(", areas %s and %d more", named, more)
	}
	return ", areas " + named
}
