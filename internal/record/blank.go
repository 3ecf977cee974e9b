package record

import (
	"strings"
	"unicode"
)

// IsBlank tells that a text has characters, but no visible one: spaces, direction
// marks, controls, and others that a font draws as nothing. Such a text names
// nothing.
func IsBlank(text string) bool {
	return text != "" && strings.IndexFunc(text, func(r rune) bool { return !unicode.In(r, unseen...) }) < 0
}

// unseen are the invisible characters (Unicode 15, Default_Ignorable_Code_Point, and white
// space, control and format characters).
var unseen = []*unicode.RangeTable{
	unicode.White_Space, unicode.Cc, unicode.Cf, unicode.Variation_Selector, unicode.Other_Default_Ignorable_Code_Point,
	{R16: []unicode.Range16{{Lo: 0x2800, Hi: 0x2800, Stride: 1}}}, // the Braille pattern without a dot
}
