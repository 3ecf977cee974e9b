// Package qrcode makes the code by which a camera opens an address (ISO/IEC 18004).
package qrcode

import (
	"image/color"

	"github.com/boombuler/barcode/qr"
)

// Quiet is how many modules about the code stay white (ISO/IEC 18004, recalled).
const Quiet = 4

// Code is a QR code, in modules, the smallest squares that it has.
type Code struct {
	Side int // with the quiet zone
	Dark []Run
}

// Run is dark modules beside each other, from the upper left corner of the quiet zone.
type Run struct{ X, Y, Length int }

// Of makes the code of an address; nil where there is none, or where it is too long.
func Of(address string) *Code {
	if address == "" {
		return nil
	}
	code, err := qr.Encode(address, qr.M, qr.Unicode)
	if err != nil {
		return nil
	}
	n := code.Bounds().Dx()
	out := &Code{Side: n + 2*Quiet}
	for y := range n {
		for x := 0; x < n; x++ {
			from := x
			for x < n && code.At(x, y) == color.Black {
				x++
			}
			if x > from {
				out.Dark = append(out.Dark, Run{Quiet + from, Quiet + y, x - from})
			}
		}
	}
	return out
}
