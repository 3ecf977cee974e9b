package record

import (
	"errors"
	"fmt"

	"meniscus/internal/fault"
	"meniscus/internal/material"
)

// Material is what the statement of an institution's own material says.
type Material struct {
	material.OwnMaterial
	// Members are those in which the values were written: value, words, low or
	// high.
	Members []string
}

// Check holds the material against the built-in ones.
func (m *Material) Check(Ref) error {
	err := material.Builtin().CheckOwn(m.OwnMaterial)
	var list fault.List
	if !errors.As(err, &list) {
		return err
	}
	moved := make(fault.List, len(list))
	for n, f := range list {
		moved[n] = f
		for i, member := range m.Members {
			if f.Pointer == fmt.Sprintf("/values/%d/value", i) {
				there := *f
				there.Pointer = fmt.Sprintf("/values/%d/%s", i, member)
				moved[n] = &there
			}
		}
	}
	return moved
}
