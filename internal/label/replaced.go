package label

import (
	"slices"

	"meniscus/internal/typeface"
)

// replaced are the characters of a piece that the letters lack.
func replaced(c Content) []string {
	var out []string
	for _, s := range c.Says {
		for _, r := range typeface.Lacking(s.Text) {
			out = appendOnce(out, r)
		}
	}
	slices.Sort(out)
	return out
}
