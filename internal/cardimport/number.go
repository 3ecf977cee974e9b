package cardimport

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
)

var (
	// numberRange is a beginning, a run of digits, a dash or "to", and an end.
	numberRange = regexp.MustCompile(`^(.*?)(\d+)\s*(-|–|—|\s(?:to|bis)\s)\s*(.*?)(\d+)$`)
	// listed is what stands between numbers of a list: a comma alone may be in one number.
	listed = regexp.MustCompile(`\s*[,;&+]\s+|\s*;\s*|\s+(?:and|und|et|y)\s+|,`)
	year   = regexp.MustCompile(`^(1[7-9]|20)\d\d$`)
)

// readsAsSeveral says which numbers a card's number reads as, or gives "" for one.
// A year with a running number behind it (1931-0007) is one.
func readsAsSeveral(text string) string {
	if parts := listOfNumbers(text); len(parts) > 1 {
		return strings.Join(parts, " and ")
	}
	f := numberRange.FindStringSubmatch(text)
	if f == nil || f[4] != "" && strings.TrimSpace(f[4]) != strings.TrimSpace(f[1]) {
		return ""
	}
	from, to, dash := f[2], f[5], f[3]
	if dash == "-" && year.MatchString(from) || len(to) > len(from) {
		return ""
	}
	to = from[:len(from)-len(to)] + to // 6004-12 ends with 6012
	first, err := strconv.ParseUint(from, 10, 64)
	last, errLast := strconv.ParseUint(to, 10, 64)
	if err != nil || errLast != nil || last <= first {
		return ""
	}
	return fmt.Sprintf("%s%s to %s%s (%d numbers)", f[1], from, f[1], to, last-first+1)
}

// listOfNumbers are the numbers of a list, each with what stands before the digits of
// the first where it has nothing of its own.
func listOfNumbers(text string) []string {
	parts := listed.Split(text, -1)
	if len(parts) < 2 {
		return nil
	}
	before := strings.TrimRight(parts[0], "0123456789")
	for i, part := range parts {
		digits := strings.TrimLeft(part, "0123456789") == ""
		switch {
		case !strings.ContainsAny(part, "0123456789"):
			return nil
		case i > 0 && digits && len(part) == 3 && strings.Contains(text, ","+part): // 1,234 is one number
			return nil
		case i > 0 && digits:
			parts[i] = before + part
		}
	}
	return parts
}
