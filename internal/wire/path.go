package wire

import (
	"strconv"
	"strings"

	"github.com/go-json-experiment/json/jsontext"

	"meniscus/internal/fault"
)

// path is where in a body a value stands.
type path []step

// step is a member's name or an item's index.
type step struct {
	name  string
	named bool
	index int
}

// longestName is the longest member name that a pointer repeats: a name says where
// the fault is, and is no value.
const longestName = 100

// pointer is the path as a JSON Pointer, as far as its first long name.
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

// withoutLongNames is a pointer as far as its first long name.
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
