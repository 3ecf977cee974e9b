package label

import (
	"image/color"

	"github.com/boombuler/barcode/qr"
)

// module is the side of the smallest square of the code, in mm: common practice
// for cameras held at arm's length.
const module = 0.4

// quiet is how many modules about the code stay white (ISO/IEC 18004, recalled).
const quiet = 4

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
	if address == "" {
		return nil
	}
	code, err := qr.Encode(address, qr.M, qr.Unicode)
	if err != nil {
		return nil
	}
	n := code.Bounds().Dx()
	out := &camera{modules: n + 2*quiet, address: address}
	for y := range n {
		for x := 0; x < n; x++ {
			from := x
			for x < n && code.At(x, y) == color.Black {
				x++
			}
			if x > from {
				out.dark = append(out.dark, rectangle(float64(quiet+from), float64(quiet+y), float64(x-from), 1)...)
			}
		}
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
