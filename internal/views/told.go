package views

import (
	"fmt"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"meniscus/api"
	"meniscus/internal/stack"
)

// mostReasons is how many of a list an answer gives in brief.
const mostReasons = 3

// sentenceCase begins a text with a capital.
func sentenceCase(text string) string {
	first, size := utf8.DecodeRuneInString(text)
	if size == 0 {
		return text
	}
	return string(unicode.ToUpper(first)) + text[size:]
}

// counted is a number with its noun.
func counted(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// findingCounts are how many findings of each severity there are.
type findingCounts api.FindingCounts

func countsOf[T any](list []T, severity func(T) api.Severity) (n findingCounts) {
	for _, x := range list {
		n.add(severity(x))
	}
	return n
}

func (n *findingCounts) add(s api.Severity) {
	switch s {
	case api.SeverityBlock:
		n.Block++
	case api.SeverityWarn:
		n.Warn++
	default:
		n.Info++
	}
}

// said are the findings in a sentence.
func (n findingCounts) said() string {
	var parts []string
	for _, x := range []struct {
		n         int32
		one, many string
	}{{n.Block, "block", "blocks"}, {n.Warn, "warning", "warnings"}, {n.Info, "note", "notes"}} {
		if x.n > 0 {
			parts = append(parts, counted(int(x.n), x.one, x.many))
		}
	}
	if len(parts) == 0 {
		return "No finding, by what is on record."
	}
	return strings.Join(parts, ", ") + "."
}

// stepsSaid names steps; a run of them by its first and last.
func stepsSaid(steps []int32) string {
	var parts []string
	for i := 0; i < len(steps); {
		j := i
		for j+1 < len(steps) && steps[j+1] == steps[j]+1 {
			j++
		}
		if text := fmt.Sprint(steps[i]); j > i {
			parts = append(parts, fmt.Sprintf("%s to %d", text, steps[j]))
		} else {
			parts = append(parts, text)
		}
		i = j + 1
	}
	if len(steps) == 1 {
		return "Step " + parts[0]
	}
	return "Steps " + strings.Join(parts, ", ")
}

// few gives as many of a list as an answer in brief has, and how many there are beyond.
func few[T any](list []T, beyond *int32) ([]T, *int32) {
	if len(list) <= mostReasons {
		return list, beyond
	}
	return slices.Clip(list[:mostReasons]), new(deref(beyond) + int32(len(list)-mostReasons))
}

// briefFindings gives all findings that block or are about the people who work on the
// specimen, and others up to three in all, without their evidence; and how many there are beyond those. Findings that can no longer be answered, or
// that the body's traits would settle, are counted elsewhere.
func briefFindings(all []api.Finding) ([]api.Finding, *api.FindingCounts) {
	kept, left := []api.Finding{}, findingCounts{}
	for _, f := range all {
		always := f.Severity == api.SeverityBlock || stack.AboutPeople(f.Rule)
		if !always && (deref(f.Unanswerable) || f.Traits != nil) {
			continue // counted
		}
		if !always && len(kept) >= mostReasons {
			left.add(f.Severity)
			continue
		}
		kept = append(kept, briefFinding(f))
	}
	if left == (findingCounts{}) {
		return kept, nil
	}
	return kept, (*api.FindingCounts)(&left)
}

// briefFinding names a few of the layers and areas that a finding is about.
func briefFinding(f api.Finding) api.Finding {
	f.Evidence, f.MoreEvidence = nil, nil
	if f.Layers != nil && len(*f.Layers) > mostReasons {
		f.Count = new(max(deref(f.Count), int32(len(*f.Layers))))
		f.Layers = new((*f.Layers)[:mostReasons])
	}
	if f.Areas != nil && len(*f.Areas) > mostReasons {
		f.Areas = new((*f.Areas)[:mostReasons])
	}
	return f
}
