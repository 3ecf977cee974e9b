package record

import (
	"fmt"

	"meniscus/internal/fault"
)

// Identifier is one number of a specimen, with its kind; opaque.
type Identifier struct {
	Kind  string
	Value string
}

// Specimen is what a specimen's statement says.
type Specimen struct {
	Identifiers    []Identifier
	Collection     string
	Owner          Text
	Description    string
	Classification Text
	BodyKind       string
	Condition      string
	Traits         []Trait
	Hazards        []Hazard
	Areas          []SpecimenArea
	// Sampling are the samples that are planned; a list without items says none.
	Sampling Said[[]PlannedSampling]
	SampleOf *SampleOrigin
	Part     *Part
	PassedOn *PassedOn
	// Restricted is why what is on record of it is told only to whoever may see restricted
	// records; "" if it is not restricted.
	Restricted string
	Remarks    string
}

// Trait is something about the body that rules ask for.
type Trait struct {
	Name   string
	Answer YesNo
}

// Hazard is a danger of the specimen to people: known, suspected, not-examined …
type Hazard struct {
	Name   string
	Status string
	How    string
}

// SpecimenArea is a named place on a specimen.
type SpecimenArea struct {
	Path     string
	Separate bool
}

// PlannedSampling is a sample that is to be taken.
type PlannedSampling struct {
	Areas    Areas
	Analysis string
}

// SampleOrigin is where a sample was taken.
type SampleOrigin struct {
	Specimen Ref
	Area     string
	Taken    Date
	Mass     Amount
}

// Part is how a part became a specimen.
type Part struct {
	Specimen Ref   // that it was part of
	Areas    Areas // that went with it
	Split    Date
	Reason   string
}

// PassedOn is where a specimen went.
type PassedOn struct {
	To   string
	Date Date
}

// Parent is the specimen that a sample or a part came from, or the zero UUID.
func (s *Specimen) Parent() Ref {
	switch {
	case s.Part != nil:
		return s.Part.Specimen
	case s.SampleOf != nil:
		return s.SampleOf.Specimen
	}
	return Ref{}
}

// Title is the number that a specimen is known by: its first catalogue number,
// else its first number; "" if it has none.
func (s *Specimen) Title() string {
	for _, id := range s.Identifiers {
		if id.Kind == "catalogue-number" {
			return id.Value
		}
	}
	if len(s.Identifiers) == 0 {
		return ""
	}
	return s.Identifiers[0].Value
}

// Check tells what is wrong with a specimen's statement.
func (s *Specimen) Check(Ref) error {
	var faults fault.List
	for i, area := range s.Areas {
		if err := faults.Merge(fmt.Sprintf("/areas/%d/path", i), CheckArea(area.Path)); err != nil {
			return err
		}
	}
	if s.Part != nil {
		for i, path := range s.Part.Areas.Value {
			if err := faults.Merge(fmt.Sprintf("/partOf/areas/paths/%d", i), CheckArea(path)); err != nil {
				return err
			}
		}
	}
	if s.Part != nil && s.SampleOf != nil {
		faults.Add("origin-twice", "/partOf", "A specimen is a sample or a part; leave sampleOf or partOf out.")
	}
	return faults.Err()
}
