package record

import (
	"strings"
	"unicode"
	"unicode/utf8"

	"meniscus/internal/fault"
)

const (
	// MaxAreaLength is the longest area path, in bytes.
	MaxAreaLength = 4000
	// maxAreaDepth is the most names that an area path may have.
	maxAreaDepth = 256
)

// wholeName is the path of the root of a specimen's areas. It is never assumed.
const wholeName = "whole"

// CheckArea tells what is wrong with an area path. A path is names in any script,
// such as skull/left-orbit, or the whole. Its faults point at the path itself.
func CheckArea(path string) error {
	if f := refuseArea(path); f != nil {
		return f
	}
	return nil
}

// AreasWithin gives the places that paths and an area's parts have in common: of
// skull/left-orbit and skull, the deeper one; of the whole and another, the
// other. Places that only one of them has are left out.
func AreasWithin(paths, within []string) []string {
	var shared []string
	for _, path := range paths {
		for _, limit := range within {
			switch {
			case path == limit || limit == wholeName || strings.HasPrefix(path, limit+"/"):
				shared = append(shared, path)
			case path == wholeName || strings.HasPrefix(limit, path+"/"):
				shared = append(shared, limit)
			}
		}
	}
	return shared
}

func refuseArea(path string) *fault.Fault {
	switch {
	case path == "":
		return fault.New("area-path-empty", "", "An area path is empty; name the area, say \"whole\" for all of the "+
			"specimen, or answer \"unknown\".")
	case len(path) > MaxAreaLength:
		return fault.New("area-path-too-long", "", "An area path has at most %d bytes.", MaxAreaLength)
	case !utf8.ValidString(path):
		return fault.New("area-path-not-utf-8", "", "An area path is text in UTF-8; this one has other bytes in it.")
	case strings.ContainsFunc(path, unicode.IsControl):
		return fault.New("area-path-control-character", "", "An area path has a control character (such as a tab, "+
			"a line break or NUL) in it; take it out.")
	}
	names := strings.Split(path, "/")
	if len(names) > maxAreaDepth {
		return fault.New("area-path-too-deep", "", "An area path has at most %d names.", maxAreaDepth)
	}
	for _, name := range names {
		switch {
		case name == "":
			return fault.New("area-path-empty-name", "", "An area path has an empty name; "+
				"write the names between single slashes.")
		case IsBlank(name):
			return fault.New("area-path-empty-name", "", "Nothing of a name in an area path can be seen; write a name.")
		case strings.TrimSpace(name) != name:
			return fault.New("area-path-spaces", "", "A name in an area path begins or ends with a space; take it out.")
		case name == wholeName && len(names) > 1:
			return fault.New("area-path-whole", "", "\"whole\" stands alone for all of the specimen; "+
				"leave it out of longer paths, as in skull/left-orbit.")
		}
	}
	return nil
}
