package wire

import (
	"strconv"
	"strings"

	"github.com/go-json-experiment/json/jsontext"

	"meniscus/internal/fault"
)

// path is the place of a value in a body.
type path []step

// step is a member's name or an item's index.
type step struct {
	name  string
	named bool
	index int
}

// longestName is the longest member name that a pointer repeats; a longer one may be
// data of the caller.
const longestName = 100

// pointer is the path as a JSON Pointer, up to its first long name.
func (p path) pointer() string {
	var b strings.Builder
	for _, s := range p {
		if len(s.name) > longestName {
			break
		}
		b.WriteByte('/')
		if s.named {
			b.WriteString(fault.Escape(s.name))
		} else {
			b.WriteString(strconv.Itoa(s.index))
		}
	}
	return b.String()
}

// withoutLongNames is a pointer up to its first long name.
func withoutLongNames(p jsontext.Pointer) string {
	kept := 0
	for name := range p.Tokens() {
		if len(name) > longestName {
			break
		}
		kept += len("/") + len(fault.Escape(name))
	}
	return string(p[:min(kept, len(p))])
}
