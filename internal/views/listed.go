package views

import "slices"

// mostListed is how much a list about one specimen or one batch holds, as the
// contract says.
const mostListed = 20_000

// leftOutCaution stands in an answer of which a list was cut.
const leftOutCaution = "More is on record than an answer holds: at least one of its lists is cut short. " +
	"GET /v1/treatments lists every treatment, page by page."

// listed gives as much of a list as the contract holds, and sets cut where that is not
// all: an answer says so.
func listed[T any](cut *bool, list []T, most int) []T {
	if len(list) <= most {
		return list
	}
	*cut = true
	return list[:most]
}

// cautions are those of an answer, and one more where a list was cut.
func cautions(cut bool, all ...string) []string {
	if cut {
		return append(slices.Clone(all), leftOutCaution)
	}
	return all
}
