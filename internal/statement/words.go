package statement

import (
	"cmp"
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"github.com/google/uuid"

	"meniscus/internal/wire"
)

// EntryFrom reads the body of an entry that was recorded elsewhere; a body with an
// unknown member is refused.
func EntryFrom(body string) (Entry, error) {
	var e Entry
	return e, wire.Decode([]byte(Shown(body)), &e)
}

// File is a picture or a document that a record names, where it lies.
type File struct {
	URL       string `json:"url"`
	SHA256    string `json:"sha256,omitempty"`
	MediaType string `json:"mediaType,omitempty"`
	Bytes     int64  `json:"bytes,omitempty"`
}

// NamedIn calls id for every id in an entry's body, except those of its origin, and gives the
// pictures and documents that it names, in order of their addresses.
func NamedIn(body string, id func(uuid.UUID)) ([]File, error) {
	var value any
	if err := json.Unmarshal([]byte(body), &value); err != nil {
		return nil, fmt.Errorf("reading an entry: %w", err)
	}
	var files []File
	eachNamed(value, id, func(f File) { files = append(files, f) })
	slices.SortFunc(files, func(a, b File) int {
		return cmp.Or(strings.Compare(a.URL, b.URL), strings.Compare(a.SHA256, b.SHA256))
	})
	return slices.Compact(files), nil
}

func eachNamed(value any, id func(uuid.UUID), file func(File)) {
	switch v := value.(type) {
	case string:
		if named, err := uuid.Parse(v); err == nil && len(v) == 36 {
			id(named)
		}
	case []any:
		for _, item := range v {
			eachNamed(item, id, file)
		}
	case map[string]any:
		if url, is := v["url"].(string); is { // only pictures and documents have an address
			f := File{URL: url}
			f.SHA256, _ = v["sha256"].(string)
			f.MediaType, _ = v["mediaType"].(string)
			size, _ := v["bytes"].(float64)
			f.Bytes = int64(size)
			file(f)
		}
		for name, item := range v {
			if name != "receivedFrom" {
				eachNamed(item, id, file)
			}
		}
	}
}
