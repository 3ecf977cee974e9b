package statement

import (
	"regexp"
	"slices"

	"meniscus/internal/edtf"
)

// season is a date of a statement that is a season. Replacing text is safe: in JSON, a name with
// its quotes and colon occurs only as a name.
var season = regexp.MustCompile(`("(?:edtf|dated|taken)"\s*:\s*")(\d{4}-2[1-4])"`)

// NamesSeason tells whether words name a season, which does not say of which half of the earth.
func NamesSeason(words []byte) bool { return season.Match(words) }

// InMonths is words with each season as the months that it has on a half of the earth.
func InMonths(words []byte, half edtf.Hemisphere) []byte {
	return season.ReplaceAllFunc(words, func(found []byte) []byte {
		parts := season.FindSubmatch(found)
		date, err := edtf.Parse(string(parts[2]))
		if err != nil {
			return found
		}
		return slices.Concat(parts[1], []byte(date.InMonths(half)), []byte(`"`))
	})
}
