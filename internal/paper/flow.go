package paper

import (
	"strings"
	"unicode"

	"meniscus/internal/typeface"
)

// run is a piece of text in one weight. Whole pieces do not break where they fit on a line.
type run struct {
	text  string
	bold  bool
	whole bool // begins a piece that stays together with what is joined to it
	with  bool // is joined to the piece before it
}

// between stands between fields on one line.
const between = "·"

// fieldRuns are fields beside each other, the labels strong, with a dot between.
func fieldRuns(fields []Field) []run {
	var out []run
	for i, f := range fields {
		if i > 0 {
			out = append(out, run{text: between, with: true})
		}
		out = append(out, run{text: f.Label + ":", bold: true, whole: f.short()}, run{text: f.Value, with: f.short()})
	}
	return out
}

// word is what is not broken, as long as it fits on a line.
type word struct {
	text string
	bold bool
	size float64 // how long it is
	keep int     // how many words after it stay on its line, if they fit
	end  bool    // a line ends after it
}

// words takes runs apart.
func (w *printing) words(runs []run) []word {
	var out []word
	whole := -1
	for _, r := range runs {
		if !r.with {
			whole = -1
		}
		if r.whole {
			whole = len(out)
		}
		lines := strings.Split(visible(r.text), "\n")
		for i, line := range lines {
			for _, text := range strings.Fields(w.printable(line)) {
				out = append(out, word{text: text, bold: r.bold, size: typeface.Width(text, w.size, r.bold)})
				if whole >= 0 && whole < len(out)-1 {
					out[whole].keep++
				}
			}
			if i < len(lines)-1 && len(out) > 0 {
				out[len(out)-1].end = true
			}
		}
	}
	return out
}

// visible drops what has no shape on paper: controls, and marks of direction.
func visible(text string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\n':
			return r
		case unicode.IsSpace(r):
			return ' '
		case unicode.Is(unicode.Cf, r) || unicode.IsControl(r):
			return -1
		}
		return r
	}, text)
}

// flow sets runs into lines between two edges; first is drawn beside the first line.
func (w *printing) flow(from, to float64, runs []run, first func(y float64)) {
	done := false
	w.each(from, to, runs, func(y float64) {
		if first != nil && !done {
			first(y)
		}
		done = true
	})
}

// each sets runs into lines between two edges; beside is drawn beside each of them.
func (w *printing) each(from, to float64, runs []run, beside func(y float64)) {
	words, size := w.words(runs), w.size
	space := typeface.Width(" ", size, false)
	for len(words) > 0 {
		if words[0].size > to-from {
			w.row(from, []word{w.broken(&words[0], to-from)}, space, beside)
			if words[0].text == "" {
				words = words[1:]
			}
			continue
		}
		n, used := 1, words[0].size
		for n < len(words) && !words[n-1].end {
			ahead := used + space + words[n].size
			if ahead > to-from {
				break
			}
			together := ahead
			for i := n + 1; i <= n+words[n].keep && i < len(words); i++ {
				together += space + words[i].size
			}
			if together > to-from && together-used-space <= to-from {
				break
			}
			n, used = n+1, ahead
		}
		line := words[:n]
		if n > 1 && n < len(words) && line[n-1].text == between {
			line = line[:n-1]
		}
		w.row(from, line, space, beside)
		words = words[n:]
	}
	w.letters(size, false)
}

// row writes a line, with what is drawn beside it, and goes on to the next.
func (w *printing) row(from float64, line []word, space float64, beside func(y float64)) {
	w.room(w.line())
	if beside != nil {
		beside(w.base())
	}
	w.set(from, line, space)
	w.y += w.line()
}

// broken takes as much off the beginning of a word that is longer than a line as fits on one.
func (w *printing) broken(long *word, wide float64) (head word) {
	head = *long
	head.text, long.text = typeface.TakeLine(long.text, wide, w.size, long.bold)
	head.size = typeface.Width(head.text, w.size, long.bold)
	long.size -= head.size
	return head
}

// set writes a line; words of one weight are written as one text, so that they are read as
// one.
func (w *printing) set(x float64, words []word, space float64) {
	size := w.size
	for i := 0; i < len(words); {
		n, text, wide := i, "", 0.0
		for n < len(words) && words[n].bold == words[i].bold {
			text += words[n].text + " "
			n++
		}
		wide = typeface.Width(strings.TrimRight(text, " "), size, words[i].bold) + space
		w.letters(size, words[i].bold)
		if n == len(words) {
			text = strings.TrimRight(text, " ")
		}
		w.Text(x, w.base(), text)
		x += wide
		i = n
	}
}
