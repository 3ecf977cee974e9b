package httpapi

import (
	_ "embed"
	"fmt"
	"strings"

	"meniscus/internal/fault"
)

// problemCodes are the codes of single faults and the kinds that they are of.
//
//go:embed problem_codes.tsv
var problemCodes string

// kindNames are the kinds as the table of codes names them.
var kindNames = map[string]fault.Kind{
	"Invalid": fault.Invalid, "Malformed": fault.Malformed, "NotFound": fault.NotFound, "Conflict": fault.Conflict, "Stale": fault.Stale,
	"PreconditionMissing": fault.PreconditionMissing, "Unauthenticated": fault.Unauthenticated, "Forbidden": fault.Forbidden,
	"TooLarge": fault.TooLarge, "Unsupported": fault.Unsupported, "NotAcceptable": fault.NotAcceptable, "MethodNotAllowed": fault.MethodNotAllowed,
	"Busy": fault.Busy, "Unavailable": fault.Unavailable, "TooMany": fault.TooMany,
}

// whatToDo is for the developer who meets a problem for the first time.
var whatToDo = map[fault.Kind]string{
	fault.Invalid:             "Each of the problem's errors has a pointer into the body, a code, and a sentence that says how to mend it. All faults are listed at once.",
	fault.Malformed:           "The request could not be read: see the problem's errors for where. Nothing was done.",
	fault.NotFound:            "The id or the path is wrong, or the thing belongs to another institution: the two are not told apart.",
	fault.Conflict:            "Read the record as it stands, and decide again.",
	fault.Stale:               "Somebody changed the record after it was read. Read it again; its ETag goes into If-Match.",
	fault.PreconditionMissing: "Read the record, and send its ETag in If-Match.",
	fault.Unauthenticated:     "Send Authorization: Bearer with an access key of this service.",
	fault.Forbidden:           "The key does not carry the scope that the operation needs; whoever administers the institution's keys can make another.",
	fault.TooLarge:            "Send less at a time.",
	fault.Unsupported:         "Send one of the media types that the contract lists for the operation.",
	fault.NotAcceptable:       "Accept one of the media types that the contract lists for the operation.",
	fault.MethodNotAllowed:    "The header Allow lists the methods of this path.",
	fault.Busy:                "Send the same request again after the seconds in Retry-After; if the first one succeeded, its record is answered.",
	fault.TooMany:             "Wait for the seconds in Retry-After. RateLimit says how much is left before that.",
	fault.Unavailable:         "Send the same request again after the seconds in Retry-After. Nothing is half-written.",
}

// mountProblemPages mounts a page for each type of problem: those of a kind, those
// of a single fault, and the service's own faults.
func (s *Server) mountProblemPages() error {
	pages := map[string]string{"internal": "internal (status 500)\n\nA fault of the service.\n\nIt is in the service's log under the problem's instance; sending the request again may help.\n"}
	for kind, known := range statuses {
		pages[known.slug] = known.slug + kindText(kind)
	}
	for line := range strings.Lines(problemCodes) {
		code, kinds, _ := strings.Cut(strings.TrimSuffix(line, "\n"), "\t")
		if code == "code" || pages[code] != "" {
			continue // the heading; a kind's own page says more
		}
		text := code
		for name := range strings.FieldsSeq(kinds) {
			kind, ok := kindNames[name]
			if !ok {
				return fmt.Errorf("problem_codes.tsv: %s has an unknown kind %s", code, name)
			}
			text += kindText(kind)
		}
		pages[code] = text + "\nThe problem's detail says what is wrong in this request and how to mend it.\n"
	}
	for slug, text := range pages {
		s.page("/problems/"+slug, echoBytes("text/plain; charset=utf-8", []byte(text)))
	}
	return nil
}

// kindText says what a kind of problem means and what to do.
func kindText(kind fault.Kind) string {
	known := statuses[kind]
	return fmt.Sprintf(" (status %d)\n\n%s.\n\n%s\n", known.status, known.title, whatToDo[kind])
}
