package statement

import (
	"encoding/json"
	"fmt"

	"github.com/google/uuid"

	"meniscus/internal/wire"
)

// EntryFrom reads the body of an entry that was recorded elsewhere; a body with an
// unknown member is refused.
func EntryFrom(body string) (Entry, error) {
	var e Entry
	return e, wire.Decode([]byte(Shown(body)), &e)
}

// IDsIn calls found for every id in an entry's body, except those of its origin.
func IDsIn(body string, found func(uuid.UUID)) error {
	var value any
	if err := json.Unmarshal([]byte(body), &value); err != nil {
		return fmt.Errorf("reading an entry: %w", err)
	}
	eachID(value, found)
	return nil
}

func eachID(value any, found func(uuid.UUID)) {
	switch v := value.(type) {
	case string:
		if id, err := uuid.Parse(v); err == nil && len(v) == 36 {
			found(id)
		}
	case []any:
		for _, item := range v {
			eachID(item, found)
		}
	case map[string]any:
		for name, item := range v {
			if name != "receivedFrom" {
				eachID(item, found)
			}
		}
	}
}
