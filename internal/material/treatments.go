package material

import (
	"slices"
	"strings"
)

// leftByTreatments are how words begin that name what treatments leave on a specimen (common practice).
var leftByTreatments = []string{"adhesiv", "barrier", "coat", "conserv", "consolid", "filler", "filling", "glue", "lacquer", "polymer",
	"preserv", "repair", "resin", "restor", "retouch", "treat", "varnish"}

// OfTreatments tells whether an examination looked for what treatments leave: it says so, or does
// not say what it looked for. One material by its name does not count, since another may be there.
func OfTreatments(lookedFor string) bool {
	return strings.TrimSpace(lookedFor) == "" || slices.ContainsFunc(foldedTokens(lookedFor), func(word string) bool {
		return slices.ContainsFunc(leftByTreatments, func(begins string) bool { return strings.HasPrefix(word, begins) })
	})
}
