// Package plain writes an answer as plain text, for a terminal, a phone or a printer. It
// lays out paragraphs and does not depend on their subject.
//
// It promises that an answer has at most Most lines of Width columns, and if cut, its last line
// says how many more paragraphs there are and where; that kept paragraphs are never cut; and
// that no character of a text moves the cursor of a terminal or changes the direction of a line.
package plain

import (
	"fmt"
	"regexp"
	"strings"
	"unicode"
	"unicode/utf8"
)

const (
	// Width is how many columns a line has at most; a longer word has a line of its own.
	Width = 100
	// Most is the most lines of an answer, unless its kept paragraphs need more.
	Most = 20
)

// Text is an answer: its paragraphs in reading order. The zero value is empty.
type Text struct{ told []paragraph }

// paragraph is one paragraph; it fills as many lines as it needs.
type paragraph struct {
	lines []string
	kept  bool
}

// Keep adds paragraphs that are never cut: the answer itself, hazards, blocks, cautions.
// An empty text adds nothing.
func (t *Text) Keep(texts ...string) { t.add(true, texts) }

// Say adds paragraphs that are cut if there is no room; later ones are cut first.
func (t *Text) Say(texts ...string) { t.add(false, texts) }

// Steps adds working steps, numbered. Like the answer, they are never cut.
func (t *Text) Steps(steps ...string) {
	for i, step := range steps {
		t.Keep(fmt.Sprintf("%d. %s", i+1, step))
	}
}

func (t *Text) add(kept bool, texts []string) {
	for _, text := range texts {
		if lines := wrapped(text); len(lines) > 0 {
			t.told = append(t.told, paragraph{lines, kept})
		}
	}
}

// Paragraphs are its paragraphs, each in one line.
func (t Text) Paragraphs() []string {
	out := make([]string, len(t.told))
	for i, p := range t.told {
		words := make([]string, len(p.lines))
		for j, line := range p.lines {
			words[j] = strings.TrimSpace(line)
		}
		out[i] = strings.Join(words, " ")
	}
	return out
}

// Whole is all of the text.
func (t Text) Whole() string { return t.write(len(t.told)) }

// Short is the text in at most Most lines; address is where the whole text is.
func (t Text) Short(address string) string {
	all, room := 0, Most-1 // the last line says where the rest is
	for _, p := range t.told {
		all += len(p.lines)
		if p.kept {
			room -= len(p.lines)
		}
	}
	if all <= Most {
		return t.Whole()
	}
	end, left := len(t.told), 0
	for i, p := range t.told {
		if p.kept {
			continue
		}
		if room -= len(p.lines); room < 0 {
			end, left = min(end, i), left+1
		}
	}
	if left == 0 {
		return t.Whole()
	}
	return t.write(end) + fmt.Sprintf("%d more at %s\n", left, address)
}

// write gives the paragraphs before the one at end, and of the others those that were kept.
func (t Text) write(end int) string {
	var b strings.Builder
	for i, p := range t.told {
		if i < end || p.kept {
			b.WriteString(strings.Join(p.lines, "\n") + "\n")
		}
	}
	return b.String()
}

// marker is what a paragraph of a list begins with; its further lines are indented to its text.
var marker = regexp.MustCompile(`^(?:[0-9]+\.|-) `)

// wrapped breaks a text into lines.
func wrapped(text string) []string {
	words := strings.Fields(strings.Map(shown, text))
	if len(words) == 0 {
		return nil
	}
	indent := strings.Repeat(" ", len(marker.FindString(strings.Join(words[:min(2, len(words))], " "))))
	lines := []string{words[0]}
	for _, word := range words[1:] {
		last := &lines[len(lines)-1]
		if utf8.RuneCountInString(*last)+1+utf8.RuneCountInString(word) <= Width {
			*last += " " + word
		} else {
			lines = append(lines, indent+word)
		}
	}
	return lines
}

// shown replaces characters that move the cursor by a space, and drops those that change
// the direction of writing; the joiners that some scripts need stay.
func shown(r rune) rune {
	switch {
	case unicode.IsControl(r), r == '\u2028', r == '\u2029':
		return ' '
	case r >= '\u202a' && r <= '\u202e', r >= '\u2066' && r <= '\u2069':
		return -1
	}
	return r
}
