package cardimport

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"slices"
	"strconv"
	"strings"

	"meniscus/internal/sheet"
)

// jsonLines reads cards from lines of JSON (NDJSON): one object a line.
type jsonLines struct {
	r       *bufio.Reader
	mapping Mapping
	number  int
}

func newJSONLines(r io.Reader, m Mapping) *jsonLines {
	return &jsonLines{r: bufio.NewReaderSize(r, 64<<10), mapping: m}
}

func (j *jsonLines) next() (sourceLine, error) {
	for {
		text, tooLong, err := j.line()
		if err != nil {
			return sourceLine{}, err
		}
		if strings.TrimSpace(text) == "" {
			continue
		}
		out := sourceLine{number: j.number, raw: strings.ReplaceAll(strings.ToValidUTF8(text, "�"), "\x00", "�")}
		if tooLong {
			out.wrong = fmt.Sprintf("The line is longer than %d bytes.", sheet.MaxLine)
			return out, nil
		}
		out.cells, out.wrong = j.read(text)
		return out, nil
	}
}

// line gives one line; of one that is too long, its beginning.
func (j *jsonLines) line() (text string, tooLong bool, err error) {
	var kept []byte
	for {
		part, err := j.r.ReadSlice('\n')
		if !tooLong {
			kept = append(kept, part...)
			tooLong = len(kept) > sheet.MaxLine
		}
		switch {
		case errors.Is(err, bufio.ErrBufferFull):
			continue
		case errors.Is(err, io.EOF) && len(kept) == 0:
			return "", false, io.EOF
		case err != nil && !errors.Is(err, io.EOF):
			return "", false, fmt.Errorf("reading line %d: %w", j.number+1, err)
		}
		j.number++
		if tooLong {
			kept = kept[:2000]
		}
		return strings.TrimRight(string(kept), "\r\n"), tooLong, nil
	}
}

// valueAt gives the value at a JSON Pointer (RFC 6901), or nil.
func valueAt(object map[string]any, pointer string) any {
	var at any = object
	for _, name := range strings.Split(pointer, "/")[1:] {
		name = strings.NewReplacer("~1", "/", "~0", "~").Replace(name)
		switch within := at.(type) {
		case map[string]any:
			at = within[name]
		case []any:
			i, err := strconv.Atoi(name)
			if err != nil || i < 0 || i >= len(within) {
				return nil
			}
			at = within[i]
		default:
			return nil
		}
	}
	return at
}

// read gives the cells of an object: the members that the mapping names, and all
// others as they are.
func (j *jsonLines) read(text string) (cells, string) {
	dec := json.NewDecoder(strings.NewReader(text))
	dec.UseNumber()
	var object map[string]any
	if err := dec.Decode(&object); err != nil || dec.More() || object == nil {
		return nil, "The line is not one object of JSON."
	}
	var out cells
	taken := map[string]bool{}
	for _, c := range j.mapping.Columns {
		pointer := c.Name
		if !strings.HasPrefix(pointer, "/") {
			pointer = "/" + strings.NewReplacer("~", "~0", "/", "~1").Replace(pointer)
		}
		taken[strings.SplitN(pointer, "/", 3)[1]] = true
		text, wrong := memberText(valueAt(object, pointer), j.mapping.separator())
		if wrong != "" {
			return nil, wrong
		}
		if text = cleanCell(text); text != "" {
			out = append(out, cell{c, text})
		}
	}
	for _, name := range slices.Sorted(maps.Keys(object)) {
		if taken[name] {
			continue
		}
		text, wrong := memberText(object[name], j.mapping.separator())
		if wrong != "" {
			raw, _ := json.Marshal(object[name]) // it was decoded from JSON
			text = string(raw)
		}
		if text = cleanCell(text); text != "" {
			out = append(out, cell{Column{Name: name, Field: Ignored}, text})
		}
	}
	return out, ""
}

// memberText gives a member's value as a card would hold it; a list's items are
// joined.
func memberText(v any, separator string) (text, wrong string) {
	switch v := v.(type) {
	case nil:
		return "", ""
	case string:
		if strings.ContainsRune(v, 0) {
			return "", "A text has a NUL character in it."
		}
		return v, ""
	case json.Number:
		return v.String(), ""
	case bool:
		return fmt.Sprint(v), ""
	case []any:
		var parts []string
		for _, item := range v {
			part, wrong := memberText(item, separator)
			if wrong != "" {
				return "", wrong
			}
			parts = append(parts, part)
		}
		return strings.Join(parts, separator+" "), ""
	}
	return "", "A member that the mapping names holds an object; name the member inside it by a JSON Pointer."
}
