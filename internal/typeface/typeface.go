// Package typeface has the letters of what is printed: sans-serif, Latin, Greek and
// Cyrillic, part of the program; how wide they are, and how a text breaks into lines.
package typeface

import (
	"fmt"
	"strings"
	"sync"
	"unicode/utf8"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
	"golang.org/x/text/unicode/norm"
)

// face is the measures of one set of letters, in parts of its em.
type face struct {
	widths map[rune]float64
	x      float64 // height of the letter x
}

// unitsPerEm is the resolution at which letters are measured.
const unitsPerEm = 2048

// Regular and Bold are the fonts themselves (TrueType).
var Regular, Bold = goregular.TTF, gobold.TTF

// faces are the measures of both.
var faces = sync.OnceValue(func() [2]face {
	return [2]face{measure(Regular), measure(Bold)}
})

// measure reads the measures of a font that is part of the program.
func measure(ttf []byte) face {
	f, err := sfnt.Parse(ttf)
	if err != nil {
		panic(fmt.Sprintf("typeface: the letters cannot be read: %v", err))
	}
	out := face{widths: map[rune]float64{}}
	var buffer sfnt.Buffer
	em := fixed.I(unitsPerEm)
	for r := rune(' '); r <= 0xFFFF; r++ {
		glyph, err := f.GlyphIndex(&buffer, r)
		if err != nil || glyph == 0 {
			continue
		}
		if advance, err := f.GlyphAdvance(&buffer, glyph, em, font.HintingNone); err == nil {
			out.widths[r] = float64(advance) / float64(em)
		}
	}
	if metrics, err := f.Metrics(&buffer, em, font.HintingNone); err == nil {
		out.x = float64(metrics.XHeight) / float64(em)
	}
	return out
}

func faceOf(bold bool) face {
	if bold {
		return faces()[1]
	}
	return faces()[0]
}

// missing stands for a character that the letters lack.
const missing = '□'

// Width is how long a text is at a size, in mm.
func Width(text string, size float64, bold bool) float64 {
	f, total := faceOf(bold), 0.0
	for _, r := range text {
		width, ok := f.widths[r]
		if !ok {
			width = f.widths[missing]
		}
		total += width
	}
	return total * size
}

// Printable is a text with every character that the letters lack replaced.
func Printable(text string) string {
	f := faceOf(false)
	return strings.Map(func(r rune) rune {
		if _, ok := f.widths[r]; ok {
			return r
		}
		return missing
	}, norm.NFC.String(text))
}

// Lacking are the characters of a text that the letters lack, each once.
func Lacking(text string) []string {
	var out []string
	widths, seen := faceOf(false).widths, map[rune]bool{}
	for _, r := range norm.NFC.String(text) {
		if _, ok := widths[r]; !ok && !seen[r] {
			seen[r] = true
			out = append(out, string(r))
		}
	}
	return out
}

// XHeight is the height of the letter x, in parts of the size of the letters.
func XHeight() float64 { return faceOf(false).x }

// TakeLine takes what fits into a width off the beginning of a text: whole words,
// else up to a hyphen, slash or bracket, else as many letters as fit; at least
// one letter, so that the loop ends.
func TakeLine(text string, width, size float64, bold bool) (taken, rest string) {
	text = strings.TrimLeft(text, " ")
	end, soft, used := 0, 0, 0.0
	for i, r := range text {
		w := Width(string(r), size, bold)
		if used+w > width && i > 0 && r != ' ' {
			return cut(text, i, end, soft)
		}
		used += w
		switch next := i + utf8.RuneLen(r); {
		case r == ' ':
			end = i
		case strings.ContainsRune("-/),;–", r) && next < len(text) && text[next] != ' ':
			soft = next
		}
	}
	return strings.TrimRight(text, " "), ""
}

// cut ends a line at a word, unless that wastes most of a long word that could
// be broken after a hyphen.
func cut(text string, at, end, soft int) (taken, rest string) {
	switch {
	case end > 0 && (soft <= end || at-end < at/3):
		at = end
	case soft > 0:
		at = soft
	case end > 0:
		at = end
	}
	return strings.TrimRight(text[:at], " "), strings.TrimLeft(text[at:], " ")
}
