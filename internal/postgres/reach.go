package postgres

import (
	"fmt"
	"strings"
)

// A dated row has a reach: the fewest of these days that its date spans, or 0 where a bound
// of it is open or it spans more. What may have happened between two days is then found by
// index: rows of one reach began at most that many days before the first of the two. A
// migration makes the column reach from the bounds.
var reaches = []int{1, 31, 366, 3_653, 36_525}

// between keeps rows of t that may have been between two days, either of which may be nil,
// as far as an index on (institution_id, reach, earliest) tells: earliest is the column of
// the first day. It keeps more than those; the filters "from" and "until" decide.
func (w *conditions) between(earliest string, from, until any) {
	if from == nil && until == nil {
		return
	}
	first, last := "", ""
	if from != nil {
		first = w.arg(from) + "::date"
	}
	if until != nil {
		last = w.arg(until) + "::date"
	}
	arms := []string{"t.reach = 0"}
	for _, days := range reaches {
		arm := fmt.Sprintf("t.reach = %d", days)
		if first != "" {
			arm += fmt.Sprintf(" and t.%s > %s - %d", earliest, first, days)
		}
		if last != "" {
			arm += fmt.Sprintf(" and t.%s <= %s", earliest, last)
		}
		arms = append(arms, "("+arm+")")
	}
	w.texts = append(w.texts, "("+strings.Join(arms, " or ")+")")
}
