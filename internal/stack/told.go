package stack

import "strings"

// Told names a layer in words: its role, its material and its date.
func (s *Stack) Told(l *Layer) string {
	if l.Identity.Withheld {
		return "what a withheld record may have left"
	}
	return ToldRole(l.Role) + " of " + s.knowledge.describe(l.Identity) + ", " + dateText(l.Date, l.When)
}

// ToldRole names a role.
func ToldRole(r Role) string {
	switch r {
	case UnknownRole, OtherRole, "":
		return "layer"
	}
	return strings.ReplaceAll(string(r), "-", " ")
}

// ToldTraits names traits of a body.
func ToldTraits(traits []Trait) string { return traitNames(traits) }

// ToldAreas names areas, a few of many.
func ToldAreas(areas []Area) string {
	if len(areas) == 0 {
		return "area unknown"
	}
	return listed(each(areas, func(a Area) string { return string(a) }), 2)
}
