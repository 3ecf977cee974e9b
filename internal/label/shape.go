package label

import "math"

// point is a place on a piece, in mm from its upper left corner.
type point struct{ x, y float64 }

// ink is a colour.
type ink int

const (
	black ink = iota
	white
	red
	grey
)

// colours are the inks in red, green and blue. The red is a strong one that
// prints dark in black and white.
var colours = [...][3]int{black: {0, 0, 0}, white: {255, 255, 255}, red: {208, 0, 16}, grey: {150, 150, 150}}

// step is one step of a path: to a point, or along a Bézier curve by two others.
type step struct {
	move, curve bool
	by          [2]point
	to          point
}

// outline is closed figures.
type outline []step

// shape is an outline in an ink.
type shape struct {
	outline
	ink
}

// line is one line of letters, with its beginning on the baseline.
type line struct {
	at    point
	text  string
	size  float64 // mm of the em
	bold  bool
	ink   ink
	width float64
}

// picture is a piece as it is drawn: shapes first, then lines.
type picture struct {
	width, height float64
	shapes        []shape
	lines         []line
	says          []string // the same in words, for readers who cannot see it
}

func polygon(points ...point) outline {
	var o outline
	for i, p := range points {
		o = append(o, step{move: i == 0, to: p})
	}
	return o
}

func rectangle(x, y, w, h float64) outline {
	return polygon(point{x, y}, point{x + w, y}, point{x + w, y + h}, point{x, y + h})
}

// round is how far the control points of a quarter of a circle are from its ends.
const round = 0.5522847498

func ellipse(x, y, rx, ry float64) outline {
	kx, ky := rx*round, ry*round
	return outline{
		{move: true, to: point{x + rx, y}},
		curveTo(x+rx, y+ky, x+kx, y+ry, x, y+ry),
		curveTo(x-kx, y+ry, x-rx, y+ky, x-rx, y),
		curveTo(x-rx, y-ky, x-kx, y-ry, x, y-ry),
		curveTo(x+kx, y-ry, x+rx, y-ky, x+rx, y),
	}
}

func circle(x, y, r float64) outline { return ellipse(x, y, r, r) }

func curveTo(x1, y1, x2, y2, x, y float64) step {
	return step{curve: true, by: [2]point{{x1, y1}, {x2, y2}}, to: point{x, y}}
}

// bar is a thick line that narrows from one width to another.
func bar(a, b point, from, to float64) outline {
	length := math.Hypot(b.x-a.x, b.y-a.y)
	nx, ny := -(b.y-a.y)/length/2, (b.x-a.x)/length/2
	return polygon(
		point{a.x + nx*from, a.y + ny*from}, point{b.x + nx*to, b.y + ny*to},
		point{b.x - nx*to, b.y - ny*to}, point{a.x - nx*from, a.y - ny*from})
}

func join(outlines ...outline) outline {
	var all outline
	for _, o := range outlines {
		all = append(all, o...)
	}
	return all
}

// placed is an outline scaled and moved.
func (o outline) placed(at point, scale float64) outline {
	put := func(p point) point { return point{at.x + p.x*scale, at.y + p.y*scale} }
	out := make(outline, len(o))
	for i, s := range o {
		out[i] = step{move: s.move, curve: s.curve, by: [2]point{put(s.by[0]), put(s.by[1])}, to: put(s.to)}
	}
	return out
}
