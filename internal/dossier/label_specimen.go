package dossier

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
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
	if p := about.PassedOn; p != nil {
		out.Notices = append(out.Notices, "LEFT: passed on to "+p.To+", date "+p.Date)
	}
	if about.Withheld > 0 {
		out.Notices = append(out.Notices, "RESTRICTED: what is on record is withheld here")
	}
	if !known {
		return out
	}
	out.Number = said.Title()
	switch {
	case said.Part != nil:
		out.Origin = "Part of " + d.titleOf(said.Part.Specimen) + areasWords(said.Part.Areas.Value)
		out.Taken = takenWords(said.Part.Split)
	case said.SampleOf != nil:
		out.Origin = "Sample of " + d.titleOf(said.SampleOf.Specimen)
		if said.SampleOf.Area != "" {
			out.Origin += areasWords([]string{said.SampleOf.Area})
		}
		taken := said.SampleOf.Taken
		if !taken.Given {
			taken = cmp.Or(d.takenBy(id), taken)
		}
		out.Taken = takenWords(taken)
	}
	return out
}

// takenBy is the day of the treatment that took a sample, as far as the dossier holds it.
func (d *Dossier) takenBy(sample uuid.UUID) record.Date {
	for _, by := range slices.SortedFunc(maps.Keys(d.entries), byID) {
		t, is := said[*record.Treatment](d, by)
		if is && t.Sampling != nil && t.Sampling.Sample == sample && !d.entries[by].Retracted && t.Date.Answered() {
			return t.Date
		}
	}
	return record.Date{}
}

// takenWords say when a sample or a part was taken, and that this is not known.
func takenWords(d record.Date) string {
	switch {
	case d.Given:
		return d.Value.Words()
	case d.Answer != "":
		return "when is not known"
	}
	return "when is not recorded"
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
