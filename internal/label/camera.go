package label

import "meniscus/internal/qrcode"

// module is the side of the smallest square of the code, in mm: common practice
// for cameras held at arm's length.
const module = 0.4

// camera is a code for a camera: a QR code, whose squares have the side 1 and
// begin behind the quiet zone. A nil camera means no code.
type camera struct {
	modules int // with the quiet zone
	dark    outline
	address string
}

// cameraOf makes the code of an address; nil where the address is too long for
// one.
func cameraOf(address string) *camera {
	code := qrcode.Of(address)
	if code == nil {
		return nil
	}
	out := &camera{modules: code.Side, address: address}
	for _, r := range code.Dark {
		out.dark = append(out.dark, rectangle(float64(r.X), float64(r.Y), float64(r.Length), 1)...)
	}
	return out
}

// camera sets the code into the upper right corner.
func (w *flowing) camera(c *camera) {
	side := float64(c.modules) * module
	at := point{w.width - side, 0}
	w.right = append(w.right, box{at.x, at.y, side, side})
	w.layout.Module = module
	w.shapes = append(w.shapes, shape{c.dark.placed(at, module), black})
}
