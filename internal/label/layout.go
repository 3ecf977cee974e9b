package label

import (
	"math"
	"meniscus/internal/typeface"
	"strings"
)

// Layout is how a piece came out. Lengths are in mm.
type Layout struct {
	Width, Height float64
	XHeight       float64 // of the smallest letters
	Points        float64 // their size in points of 1/72 inch
	Side          float64 // of the pictograms' frames; 0 where there are none
	Module        float64 // of the code for a camera; 0 where there is none
	// Grown says that it did not fit into the least size with the least letters.
	Grown bool
}

const (
	margin = 1.8
	gap    = 1.2
	// leading is the distance of lines, in letters' sizes.
	leading = 1.2
	// baseline is how far the baseline is below the top of a line.
	baseline = 0.95
	// letterStep is the step by which letters grow above the least,
	// letterSteps the most steps.
	letterStep, letterSteps = 0.05, 10
	// narrowest is the shortest line, in letters' sizes.
	narrowest = 7
)

// layOut finds the largest letters with which everything fits, then the largest
// pictograms, then the smallest label.
func layOut(c Content, size Size) (Layout, picture) {
	grown := false
	for !fitsAt(c, size) {
		next, ok := size.grown()
		if !ok {
			w := arrange(c, size, size.Side, 1)
			w.height = w.bottom()
			return w.done(true)
		}
		size, grown = next, true
	}
	for _, side := range sides(c, size) {
		for step := letterSteps; step >= 0; step-- {
			if w := arrange(c, size, side, 1+float64(step)*letterStep); w.bottom() <= size.Height {
				return w.done(grown)
			}
		}
	}
	return arrange(c, size, size.LeastSide, 1).done(grown)
}

// fitsAt tells whether everything fits into a size with the least letters.
func fitsAt(c Content, size Size) bool {
	return arrange(c, size, size.LeastSide, 1).bottom() <= size.Height
}

// arrange sets a piece with its pictograms in as many rows as leave it lowest.
func arrange(c Content, size Size, side, scale float64) *flowing {
	best := flow(c, size, side, scale, 1)
	for rows := 2; rows <= len(c.Pictograms); rows++ {
		if w := flow(c, size, side, scale, rows); w.bottom() < best.bottom() {
			best = w
		}
	}
	return best
}

// sides are the sizes of pictograms to try.
func sides(c Content, size Size) []float64 {
	out := []float64{size.Side}
	if len(c.Pictograms) == 0 {
		return out
	}
	for side := size.Side - 2; side >= size.LeastSide; side -= 2 {
		out = append(out, side)
	}
	return out
}

// box is an area that lines flow around.
type box struct{ x, y, w, h float64 }

// flowing is a piece during layout: lines go from the top to the bottom, around
// what stands at the left and at the right.
type flowing struct {
	picture
	y           float64
	left, right []box
	layout      Layout
	least       float64 // size of the smallest letters
	tooWide     bool    // something does not fit into the width at all
}

// style is how a paragraph is set; its size is relative to the smallest
// letters.
type style struct {
	size float64
	bold bool
	ink  ink
}

// styles are the styles of the elements; an element without one is set
// plainly.
var styles = map[Element]style{
	SpecimenHazard: {1.2, true, black}, Notice: {1.2, true, white}, Name: {1.3, true, black},
	StrengthWords: {1.2, true, black}, StrengthNow: {1.2, true, black}, CodeText: {1.5, true, black},
	ExpiresWords: {1, true, black}, SignalText: {1.5, true, black}, HazardText: {1, true, black},
	HazardsUnknown: {1.1, true, black}, Elsewhere: {1, true, black},
}

// flow sets a piece with letters scaled from the least.
func flow(c Content, size Size, side, scale float64, rows int) *flowing {
	w := &flowing{picture: picture{width: size.Width, height: size.Height}, y: margin}
	w.least = scale * size.XHeight / typeface.XHeight()
	w.layout = Layout{Width: size.Width, Height: size.Height, XHeight: scale * size.XHeight, Points: w.least * 72 / 25.4}
	if c.Camera != nil {
		w.camera(c.Camera)
	}
	hazards := false
	for _, p := range paragraphs(c) {
		if !hazards && isHazard(p.Element) {
			hazards = true
			w.pictograms(c.Pictograms, side, rows)
		}
		w.paragraph(p)
	}
	if !hazards {
		w.pictograms(c.Pictograms, side, rows)
	}
	if c.Camera != nil {
		w.says = append(w.says, "Code for a camera: "+c.Camera.address)
	}
	return w
}

func isHazard(e Element) bool {
	return e == SignalText || e == HazardText || e == SupplierHazard || e == HazardsUnknown || e == ClassWarned
}

// together gives, for elements that share a paragraph, the element that
// begins it.
var together = map[Element]Element{
	SpecimenHazard: SpecimenHazard, HazardText: HazardText, ClassWarned: ClassWarned, PrecautionText: PrecautionText,
	MadeWords: MadeWords, CheckWords: MadeWords, MadeFrom: MadeWords,
	Completing: Completing, Deference: Completing, OwnerName: Completing,
}

// paragraphs joins the entries that share a paragraph.
func paragraphs(c Content) []Saying {
	var out []Saying
	for _, s := range c.Says {
		first, joins := together[s.Element]
		if last := len(out) - 1; joins && last >= 0 && out[last].Element == first {
			out[last].Text = sentence(out[last].Text) + " " + sentence(s.Text)
			continue
		}
		if joins {
			s.Element = first
		}
		out = append(out, s)
	}
	return out
}

// sentence ends with a stop.
func sentence(text string) string {
	if strings.HasSuffix(text, ".") || strings.HasSuffix(text, "…") {
		return text
	}
	return text + "."
}

// paragraph sets one paragraph.
func (w *flowing) paragraph(s Saying) {
	st, named := styles[s.Element]
	if !named || s.quiet {
		st = style{size: 1}
	}
	size := st.size * w.least
	if s.Element == Notice {
		w.y += 0.3 * size
	}
	for rest := s.Text; rest != ""; {
		x, wide := w.room(size)
		var text string
		text, rest = typeface.TakeLine(rest, wide, size, st.bold)
		if s.Element == Notice {
			w.shapes = append(w.shapes, shape{rectangle(x-0.6, w.y-0.15*size, wide+1.2, leading*size+0.3*size), black})
		}
		w.lines = append(w.lines, line{at: point{x, w.y + baseline*size}, text: text, size: size, bold: st.bold,
			ink: st.ink, width: typeface.Width(text, size, st.bold)})
		w.y += leading * size
	}
	if s.Element == Notice {
		w.y += 0.3 * size
	}
	w.y += 0.2 * w.least
	w.says = append(w.says, s.Text)
}

// room is where the next line may stand; it goes down where there is too little.
func (w *flowing) room(size float64) (x, wide float64) {
	for {
		from, to, below := w.between(w.y, size*leading)
		if to-from >= narrowest*size || below <= w.y {
			return from, max(to-from, size)
		}
		w.y = below
	}
}

// between is the free width at a height, and the height at which the first of
// the boxes there ends.
func (w *flowing) between(y, h float64) (from, to, below float64) {
	from, to, below = margin, w.width-margin, math.Inf(1)
	beside := func(b box) bool { return b.y < y+h && y < b.y+b.h }
	for _, b := range w.left {
		if beside(b) {
			from, below = max(from, b.x+b.w+gap), min(below, b.y+b.h)
		}
	}
	for _, b := range w.right {
		if beside(b) {
			to, below = min(to, b.x-gap/2), min(below, b.y+b.h)
		}
	}
	if math.IsInf(below, 1) {
		below = y
	}
	return from, to, below
}

// pictograms are placed at the left in rows; lines flow around them.
func (w *flowing) pictograms(codes []string, side float64, rows int) {
	if len(codes) == 0 {
		return
	}
	w.layout.Side = side
	d := side * math.Sqrt2
	w.y += 0.2 * w.least
	columns := (len(codes) + rows - 1) / rows
	wide := d * float64(columns)
	from, to, below := w.between(w.y, d*float64(rows))
	if to-from < wide && below > w.y {
		w.y = below
		from, to, _ = w.between(w.y, d*float64(rows))
	}
	if to-from < wide {
		w.tooWide = true
	}
	for i, code := range codes {
		middle := point{from + d/2 + d*float64(i%columns), w.y + d/2 + d*float64(i/columns)}
		shapes, lines := pictogram(code, middle, side)
		w.shapes, w.lines = append(w.shapes, shapes...), append(w.lines, lines...)
		w.says = append(w.says, "Pictogram: "+PictogramName(code)+".")
	}
	w.left = append(w.left, box{from, w.y, wide, d * float64(rows)})
}

// bottom is how high the piece must be for all of it; a code for a camera that
// takes more than half of the width does not fit at all.
func (w *flowing) bottom() float64 {
	if w.tooWide {
		return math.Inf(1)
	}
	bottom := w.y
	for _, b := range w.left {
		bottom = max(bottom, b.y+b.h)
	}
	for _, b := range w.right {
		bottom = max(bottom, b.y+b.h)
		if b.w > w.width/2 && w.width < larger[len(larger)-1][0] {
			return math.Inf(1)
		}
	}
	return bottom + margin/2
}

func (w *flowing) done(grown bool) (Layout, picture) {
	w.layout.Height, w.layout.Grown = w.height, grown
	return w.layout, w.picture
}
