package layers

import (
	"encoding/json"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/material"
	"meniscus/internal/postgres"
	"meniscus/internal/stack"
)

// byCollection fills in from the collection's default the traits of the body that the
// specimen's own record leaves open.
func byCollection(s *stack.Specimen, traits string) {
	var said []api.BodyTrait
	if json.Unmarshal([]byte(traits), &said) != nil { // none; stored traits were validated when they were chosen
		return
	}
	for _, t := range said {
		name, answer := stack.Trait(t.Trait), stack.Unknown
		switch t.Answer {
		case api.YesNoYes:
			answer = stack.Yes
		case api.YesNoNo:
			answer = stack.No
		}
		if answer == stack.Unknown || s.Is(name) != stack.Unknown {
			continue
		}
		s.Traits[name] = answer
		s.ByCollection = append(s.ByCollection, name)
	}
}

// BodyOf is a specimen as its own record and its collection's default describe it.
func BodyOf(specimen uuid.UUID, h postgres.History, known *material.Base) stack.Specimen {
	return bodyOf(specimen, h, known, readings{})
}

func bodyOf(specimen uuid.UUID, h postgres.History, known *material.Base, read readings) stack.Specimen {
	out := specimenOf(specimen, h.Specimen, h.Family, h.Clues, known, read)
	byCollection(&out, h.BodyTraits)
	return out
}
