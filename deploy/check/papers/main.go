// Command papers reads the code for a camera off each picture that it is given, and writes
// what it says, a line for each.
package main

import (
	"fmt"
	"image"
	_ "image/png" // the pictures' form
	"os"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/qrcode"
)

func main() {
	for _, name := range os.Args[1:] {
		said, err := read(name)
		if err != nil {
			fmt.Fprintf(os.Stderr, "papers: %s: %v\n", name, err)
			os.Exit(1)
		}
		fmt.Println(said)
	}
}

func read(name string) (string, error) {
	f, err := os.Open(name)
	if err != nil {
		return "", err
	}
	defer f.Close()
	picture, _, err := image.Decode(f)
	if err != nil {
		return "", err
	}
	bits, err := gozxing.NewBinaryBitmapFromImage(picture)
	if err != nil {
		return "", err
	}
	result, err := qrcode.NewQRCodeReader().Decode(bits, map[gozxing.DecodeHintType]any{gozxing.DecodeHintType_TRY_HARDER: true})
	if err != nil {
		return "", err
	}
	return result.GetText(), nil
}
