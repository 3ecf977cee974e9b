package record

import (
	"strings"
	"unicode"
)

// IsBlank tells that a text has characters, and none of them can be seen: spaces,
// direction marks, controls, and what else a font draws as nothing. Such a text
// names nothing.
func IsBlank(text string) bool {
	return text != "" && strings.IndexFunc(text, func(r rune) bool { return !unicode.In(r, unseen...) }) < 0
}

// unseen are the characters that are drawn as nothing (Unicode 15, Default_Ignorable_Code_Point
// and what is white space, control or format).
var unseen = []*unicode.RangeTable{
	unicode.White_Space, unicode.Cc, unicode.Cf, unicode.Variation_Selector, unicode.Other_Default_Ignorable_Code_Point,
	{R16: []unicode.Range16{{Lo: 0x2800, Hi: 0x2800, Stride: 1}}}, // the Braille pattern without a dot
}
