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

// camera sets the address as a QR code into the upper right corner. An address
// that is too long for one is left out by New before.
func (w *flowing) camera(address string) {
	code, err := qr.Encode(address, qr.M, qr.Unicode)
	if err != nil {
		return
	}
	n := code.Bounds().Dx()
	side := float64(n+2*quiet) * module
	at := point{w.width - side, 0}
	w.right = append(w.right, box{at.x, at.y, side, side})
	w.layout.Module = module
	var dark outline
	for y := range n {
		for x := 0; x < n; x++ {
			from := x
			for x < n && code.At(x, y) == color.Black {
				x++
			}
			if x > from {
				dark = append(dark, rectangle(at.x+float64(quiet+from)*module, at.y+float64(quiet+y)*module, float64(x-from)*module, module)...)
			}
		}
	}
	w.shapes = append(w.shapes, shape{dark, black})
	w.says = append(w.says, "Code for a camera: "+address)
}
