package publish

import (
	"encoding/xml"
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"
)

// maxListed is how many treatments a summary lists; the newest are kept.
const maxListed = 20

// Summary is what a catalogue shows of a specimen on its own record page.
type Summary struct {
	Specimen   Specimen
	Treatments []Treatment // by date, at most maxListed
	Total      int
	More       int
	Latest     string // the latest date, in words
	LatestEDTF string
}

// Summarize makes a specimen's summary.
func Summarize(s Specimen) Summary {
	list := byDate(s.Treatments)
	left := max(0, len(list)-maxListed)
	sum := Summary{Specimen: s, Total: len(list) + s.MoreTreatments, More: left + s.MoreTreatments}
	sum.Treatments = list[left:]
	if last := latest(list); last != nil {
		sum.Latest, sum.LatestEDTF = last.Date.Said(), last.Date.String()
	}
	return sum
}

// Count is the number of treatments in words.
func (s Summary) Count() string { return plural(s.Total, "conservation treatment") }

// Text is the summary as one line for a catalogue's preparations field: what is to be known
// first, then the treatments, separated as Darwin Core does.
func (s Summary) Text() string {
	values := make([]string, 0, len(s.Specimen.Notices)+1)
	for _, notice := range s.Specimen.Notices {
		values = append(values, oneLine(notice))
	}
	return strings.Join(append(values, s.Specimen.Preparations()), " | ")
}

// Fragment is the summary as HTML to be put into another page. It has no style
// and no script; its one class name begins with meniscus-.
func (s Summary) Fragment() ([]byte, error) { return render("summary", s) }

// BadgeType is the media type of a badge.
const BadgeType = "image/svg+xml"

// Badge is the summary as a small picture, drawn as the paper tag that is tied to a
// specimen: its hazards in the first line, boldly where one is known or suspected, then the
// number of treatments in words. Its title says the same, for people who do not see it.
func (s Summary) Badge() []byte {
	const corner, hole, end, row = 9, 14, 10, 17
	lines, from := []string{s.badgeText()}, hole+corner
	if tag := s.Specimen.HazardTag; tag != "" {
		lines = slices.Insert(lines, 0, tag)
	}
	width, height := from+end, 9+row*len(lines)
	for _, line := range lines {
		width = max(width, from+badgeWidth(line)+end)
	}
	var b strings.Builder
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" width="%d" height="%d" viewBox="0 0 %d %d" role="img" `+
		`aria-labelledby="t">`, width, height, width, height)
	fmt.Fprintf(&b, `<title id="t">%s</title>`, escaped(strings.Join(append(slices.Clone(s.Specimen.Notices),
		"Conservation record of "+s.Specimen.Title+": "+strings.Join(lines, " · ")), " ")))
	fmt.Fprintf(&b, `<path d="M%d 1H%dV%dH%dL1 %dV%dz" fill="#fffdf5" stroke="#1a1a1a" stroke-width="1.5"/>`,
		corner, width-1, height-1, corner, height-corner, corner)
	fmt.Fprintf(&b, `<circle cx="%d" cy="%g" r="3" fill="#fff" stroke="#1a1a1a" stroke-width="1.5"/>`,
		corner+1, float64(height)/2)
	for i, line := range lines {
		weight := ""
		if strings.HasPrefix(line, warning) {
			weight = ` font-weight="bold"`
		}
		fmt.Fprintf(&b, `<text x="%d" y="%g" fill="#1a1a1a" font-family="Georgia,DejaVu Serif,serif" font-size="12"%s `+
			`textLength="%d" lengthAdjust="spacingAndGlyphs">%s</text>`,
			from, 17.5+float64(row*i), weight, badgeWidth(line), escaped(line))
	}
	b.WriteString("</svg>")
	return []byte(b.String())
}

// warning begins the tag of hazards that are known or suspected.
const warning = "HAZARD:"

// badgeWidth is how wide a line is set; bold letters are wider by an eighth.
func badgeWidth(line string) int {
	if strings.HasPrefix(line, warning) {
		return textWidth(line) * 9 / 8
	}
	return textWidth(line)
}

func (s Summary) badgeText() string {
	if s.Total == 0 {
		return "no conservation on record"
	}
	text := plural(s.Total, "conservation treatment")
	if s.LatestEDTF != "" {
		text += ", latest " + s.LatestEDTF
	}
	return text
}

// textWidth estimates the width of a line at 12 px in the badge's fonts; the
// picture then sets the line to exactly this width.
func textWidth(text string) int {
	narrow := strings.Count(text, "i") + strings.Count(text, "l") + strings.Count(text, ",") + strings.Count(text, " ") +
		strings.Count(text, "t") + strings.Count(text, "r")
	return (utf8.RuneCountInString(text)*76-narrow*28)/10 + 1
}

// escaped is a text fit for XML.
func escaped(text string) string {
	var b strings.Builder
	_ = xml.EscapeText(&b, []byte(oneLine(text))) // into memory
	return b.String()
}
