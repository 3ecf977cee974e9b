package bibliography

import "slices"

// Status says how far a value, a formula or a sentence was checked.
type Status string

// The statuses.
const (
	Verified       Status = "verified"        // read in a primary source, or in two that are independent (Verify)
	Read           Status = "read"            // seen in the source named
	Computed       Status = "computed"        // computed from values that were read
	Memory         Status = "memory"          // recalled; the source was not seen
	CommonPractice Status = "common-practice" // a fact of the trade without a published source
	Own            Status = "own"             // the institution's own, with its own citation
)

// Better tells whether s is the better evidence: what was read before what was computed
// or is an institution's own statement, and what is recalled last.
func (s Status) Better(t Status) bool { return s.rank() < t.rank() }

// Seen tells whether the source itself was seen, here or by the institution.
func (s Status) Seen() bool { return s == Verified || s == Read || s == Own }

// Borne is the status of what sources say together: that of the weakest of them where
// one is no document, else verified where they bear it. It panics for a key that is not
// in the table.
func Borne(keys []string) Status {
	var all []Source
	out := Read
	for _, key := range keys {
		s := Named(key)
		all = append(all, s)
		switch s.Kind {
		case "recalled":
			return Memory
		case "common practice":
			out = CommonPractice
		}
	}
	if out == Read && Verify(all...) {
		return Verified
	}
	return out
}

func (s Status) rank() int {
	return slices.Index([]Status{Verified, Read, Computed, Own, CommonPractice, Memory, ""}, s)
}
