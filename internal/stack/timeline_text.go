package stack

import "strings"

// look is how a line of the picture is written.
type look struct {
	attributes string
	scale      float64 // against size 11
}

var (
	plain    = look{"", 1}
	leftward = look{` text-anchor="end"`, 1} // it ends where it is put
	bold     = look{` font-weight="bold"`, 1.12}
	heading  = look{` font-size="17" font-weight="bold"`, 1.75}
)

// text writes a line that takes no more than the room given; what is longer is cut.
func (d *drawing) text(x, y, room float64, line string, l look) {
	d.put(`<text x="%.1f" y="%.1f"%s>%s</text>`, x, y, l.attributes, escape(fit(line, room/l.scale)))
}

// fit cuts a line at size 11 to the room that it has.
func fit(line string, room float64) string {
	if width(line) <= room {
		return line
	}
	taken := letterWidth('…')
	for i, r := range line {
		if taken += letterWidth(r); taken > room {
			return line[:i] + "…"
		}
	}
	return line
}

// width is how wide a line is at size 11, in a wide font: readers' fonts differ.
func width(text string) float64 {
	total := 0.0
	for _, r := range text {
		total += letterWidth(r)
	}
	return total
}

// letterWidth is a letter's width at size 11: about those of a wide sans-serif (from
// memory), those of other scripts as wide as they are high.
func letterWidth(r rune) float64 {
	switch {
	case strings.ContainsRune("ijlI.,;:'|![]()/ ft", r):
		return 4.3
	case strings.ContainsRune("mwMW@%…—", r):
		return 11
	case 'A' <= r && r <= 'Z':
		return 8.2
	case r < 0x250 || 0x370 <= r && r < 0x530: // Latin, Greek, Cyrillic
		return 7
	}
	return 11
}

// wrapped breaks sentences into lines of bold text that fit the picture.
func wrapped(sentences []string) []string {
	room := (picWidth - 2*margin) / bold.scale
	var lines []string
	for _, sentence := range sentences {
		line := ""
		for _, word := range strings.Fields(sentence) {
			if longer := line + " " + word; line == "" {
				line = word
			} else if width(longer) <= room {
				line = longer
			} else {
				lines, line = append(lines, line), word
			}
		}
		if line != "" {
			lines = append(lines, line)
		}
	}
	return lines
}
