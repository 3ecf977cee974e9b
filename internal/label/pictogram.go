package label

import (
	"math"
	"meniscus/internal/typeface"
)

// pictogramNames say what each shows.
var pictogramNames = map[string]string{
	"GHS01": "exploding bomb", "GHS02": "flame", "GHS03": "flame over circle", "GHS04": "gas cylinder",
	"GHS05": "corrosion",
	"GHS06": "skull and crossbones", "GHS07": "exclamation mark", "GHS08": "health hazard", "GHS09": "environment",
}

// PictogramName says what a pictogram shows.
func PictogramName(code string) string { return pictogramNames[code] }

// The pictograms are drawn around the middle of a square that stands on its
// point; from the middle to a corner is 1. The frame is 0.13 of that, the
// symbol stays within 0.8.
const frame = 0.13

// layer is part of a symbol: what is drawn over what.
type layer struct {
	ink
	outline
}

var symbols = map[string][]layer{
	"GHS02": {{black, flame}, {white, tongue}},
	"GHS05": {{black, tubes}, {white, glass}, {black, join(drops, plate, hand)}, {white, bitten}},
	"GHS06": {{black, join(bones, knobs)}, {white, circle(0, -0.16, 0.36)}, {black, skull}, {white, join(circle(-0.12, -0.2, 0.085), circle(0.12, -0.2, 0.085), nose, teeth)}},
	"GHS07": {{black, join(polygon(point{-0.1, -0.56}, point{0.1, -0.56}, point{0.06, 0.16}, point{-0.06, 0.16}), circle(0, 0.36, 0.105))}},
	"GHS08": {{black, join(circle(0, -0.47, 0.145), torso)}, {white, burst(0, 0.08, 0.27, 0.1, 8)}},
	"GHS09": {{black, join(tree, ground)}, {white, fishOutline(1.22)}, {black, fishOutline(1)}, {white, circle(0.22, 0.19, 0.03)}},
}

var (
	flame = join(outline{
		{move: true, to: point{0.03, -0.66}},
		curveTo(0.06, -0.42, 0.34, -0.24, 0.31, 0.08),
		curveTo(0.29, 0.28, 0.15, 0.38, 0, 0.38),
		curveTo(-0.17, 0.38, -0.31, 0.26, -0.3, 0.05),
		curveTo(-0.29, -0.1, -0.19, -0.18, -0.17, -0.36),
		curveTo(-0.1, -0.28, -0.07, -0.2, -0.06, -0.13),
		curveTo(-0.02, -0.28, -0.07, -0.46, 0.03, -0.66),
	}, rectangle(-0.3, 0.45, 0.6, 0.07))
	tongue = outline{
		{move: true, to: point{0.02, -0.06}},
		curveTo(0.12, 0.06, 0.17, 0.14, 0.11, 0.26),
		curveTo(0.07, 0.32, -0.07, 0.32, -0.11, 0.25),
		curveTo(-0.15, 0.14, -0.02, 0.06, 0.02, -0.06),
	}

	tubes = join(bar(point{-0.02, -0.46}, point{-0.3, -0.2}, 0.16, 0.16),
		bar(point{0.42, -0.34}, point{0.2, -0.08}, 0.16, 0.16))
	glass = join(bar(point{-0.05, -0.43}, point{-0.3, -0.2}, 0.1, 0.1),
		bar(point{0.39, -0.31}, point{0.2, -0.08}, 0.1, 0.1))
	drops = join(circle(-0.32, -0.06, 0.04), circle(-0.32, 0.06, 0.04), circle(0.18, 0.06, 0.04))
	plate = rectangle(-0.52, 0.2, 0.4, 0.12)
	hand  = polygon(point{0.02, 0.3}, point{0.1, 0.22}, point{0.34, 0.18}, point{0.54, 0.24}, point{0.54, 0.32},
		point{0.3, 0.37}, point{0.06, 0.38})
	bitten = join(circle(-0.32, 0.19, 0.09), circle(0.18, 0.18, 0.07))

	skull = join(circle(0, -0.22, 0.29), rectangle(-0.15, 0.07, 0.3, 0.12))
	nose  = polygon(point{0, -0.08}, point{0.045, 0.01}, point{-0.045, 0.01})
	teeth = join(rectangle(-0.06, 0.08, 0.02, 0.11), rectangle(0.04, 0.08, 0.02, 0.11))
	bones = join(bar(point{-0.42, 0.2}, point{0.25, 0.48}, 0.09, 0.09),
		bar(point{0.42, 0.2}, point{-0.25, 0.48}, 0.09, 0.09))
	knobs = join(circle(-0.42, 0.19, 0.06), circle(0.42, 0.19, 0.06), circle(0.25, 0.5, 0.06), circle(-0.25, 0.5, 0.06))

	torso = outline{
		{move: true, to: point{-0.34, 0.42}},
		{to: point{-0.34, 0}},
		curveTo(-0.34, -0.2, -0.2, -0.27, 0, -0.27),
		curveTo(0.2, -0.27, 0.34, -0.2, 0.34, 0),
		{to: point{0.34, 0.42}},
	}

	tree = join(
		bar(point{-0.2, 0.24}, point{-0.16, -0.5}, 0.12, 0.03),
		bar(point{-0.19, 0.02}, point{-0.4, -0.2}, 0.05, 0.02),
		bar(point{-0.18, -0.12}, point{0, -0.34}, 0.05, 0.02),
		bar(point{-0.17, -0.26}, point{-0.3, -0.4}, 0.04, 0.02))
	ground = outline{
		{move: true, to: point{-0.52, 0.24}},
		{to: point{0.04, 0.24}},
		curveTo(-0.06, 0.3, -0.04, 0.4, 0.1, 0.44),
		{to: point{-0.33, 0.44}},
	}
)

// burst is a star with n points.
func burst(x, y, outer, inner float64, n int) outline {
	points := make([]point, 0, 2*n)
	for i := range 2 * n {
		r := outer
		if i%2 == 1 {
			r = inner
		}
		sin, cos := math.Sincos(math.Pi * float64(i) / float64(n))
		points = append(points, point{x + r*sin, y - r*cos})
	}
	return polygon(points...)
}

// fishOutline is a fish that lies on its back, larger for the white about it.
func fishOutline(scale float64) outline {
	body := outline{
		{move: true, to: point{-0.2, 0}},
		curveTo(-0.1, -0.14, 0.1, -0.14, 0.22, 0),
		curveTo(0.1, 0.14, -0.1, 0.14, -0.2, 0),
	}
	tail := polygon(point{-0.16, 0}, point{-0.32, -0.11}, point{-0.27, 0}, point{-0.32, 0.11})
	return join(body, tail).placed(point{0.14, 0.22}, scale)
}

// pictogram draws one about a middle; side is that of its frame. One that is not
// drawn here shows its code.
func pictogram(code string, middle point, side float64) ([]shape, []line) {
	corner := side / math.Sqrt2
	diamond := polygon(point{0, -1}, point{1, 0}, point{0, 1}, point{-1, 0})
	out := []shape{
		{diamond.placed(middle, corner), red},
		{diamond.placed(middle, corner*(1-frame)), white},
	}
	symbol, drawn := symbols[code]
	if !drawn {
		size := corner * 0.45
		width := typeface.Width(code, size, true)
		return out, []line{{at: point{middle.x - width/2, middle.y + size/3}, text: code, size: size, bold: true,
			width: width}}
	}
	for _, l := range symbol {
		for _, part := range l.parts() {
			out = append(out, shape{part.placed(middle, corner), l.ink})
		}
	}
	return out, nil
}

// parts are the figures of a layer one by one, so that those that overlap do not
// take each other out.
func (l layer) parts() []outline {
	var out []outline
	for _, s := range l.outline {
		if s.move {
			out = append(out, nil)
		}
		out[len(out)-1] = append(out[len(out)-1], s)
	}
	return out
}
