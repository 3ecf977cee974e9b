package statement

import (
	"encoding/json"
	"errors"
	"fmt"

	"github.com/go-json-experiment/json/jsontext"
	"github.com/google/uuid"

	"meniscus/internal/wire"
)

// EntryFrom reads the body of an entry that was recorded elsewhere: it is refused
// where it has a member that no entry has.
func EntryFrom(body string) (Entry, error) {
	var e Entry
	return e, wire.Decode([]byte(Shown(body)), &e)
}

// Written gives why an entry was made, and the members of its statement as they
// were written: a text as it stands, everything else as JSON, with its digits.
// Words that are gone give nothing.
func Written(body *string) (reason string, members map[string]string, err error) {
	e, err := OpenEntry(body)
	if err != nil || len(e.Statement) == 0 {
		if errors.Is(err, ErrRedacted) {
			err = nil
		}
		return deref(e.Reason), nil, err
	}
	var values map[string]jsontext.Value
	if err := json.Unmarshal(e.Statement, &values); err != nil {
		return "", nil, fmt.Errorf("reading a statement's members: %w", err)
	}
	members = make(map[string]string, len(values))
	for name, value := range values {
		var text string
		if json.Unmarshal(value, &text) != nil {
			text = string(value)
		}
		members[name] = text
	}
	return deref(e.Reason), members, nil
}

// IDsIn calls found for every id in an entry's body, but for those that say where
// it came from.
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
