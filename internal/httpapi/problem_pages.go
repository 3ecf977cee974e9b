package httpapi

import (
	_ "embed"
	"fmt"
	"maps"
	"slices"
	"strings"
	"sync"

	"github.com/getkin/kin-openapi/openapi3"

	"meniscus/api"
	"meniscus/internal/fault"
)

// problemCodes are the codes of single faults and the kinds that they are of.
//
//go:embed problem_codes.tsv
var problemCodes string

// kindNames are the kinds as the table of codes names them.
var kindNames = map[string]fault.Kind{
	"Invalid": fault.Invalid, "Malformed": fault.Malformed, "NotFound": fault.NotFound,
	"Conflict": fault.Conflict, "Stale": fault.Stale,
	"PreconditionMissing": fault.PreconditionMissing, "Unauthenticated": fault.Unauthenticated,
	"Forbidden": fault.Forbidden, "TooLarge": fault.TooLarge, "Unsupported": fault.Unsupported,
	"NotAcceptable": fault.NotAcceptable, "MethodNotAllowed": fault.MethodNotAllowed, "Busy": fault.Busy,
	"Unavailable": fault.Unavailable, "TooMany": fault.TooMany,
}

// whatToDo is for the developer who meets a problem for the first time.
var whatToDo = map[fault.Kind]string{
	fault.Invalid:             "Each of the problem's errors has a pointer into the body, a code, and a sentence that says how to mend it. All faults are listed at once.",
	fault.Malformed:           "The request could not be read: see the problem's errors for where. Nothing was done.",
	fault.NotFound:            "The id or the path is wrong, or the thing belongs to another institution: the two are not told apart.",
	fault.Conflict:            "Read the record as it stands, and decide again.",
	fault.Stale:               "The record was changed after it was read. Read it again; its ETag goes into If-Match.",
	fault.PreconditionMissing: "Read the record, and send its ETag in If-Match.",
	fault.Unauthenticated:     "Send Authorization: Bearer with an access key of this service.",
	fault.Forbidden:           "The key does not carry the scope that the operation needs; an administrator of the institution's keys can make another.",
	fault.TooLarge:            "Send less at a time.",
	fault.Unsupported:         "Send one of the media types that the contract lists for the operation.",
	fault.NotAcceptable:       "Accept one of the media types that the contract lists for the operation.",
	fault.MethodNotAllowed:    "The header Allow lists the methods of this path.",
	fault.Busy:                "Send the same request again after the seconds in Retry-After; if the first one succeeded, its record is answered.",
	fault.TooMany:             "Wait for the seconds in Retry-After. RateLimit says how much is left before that.",
	fault.Unavailable:         "Send the same request again after the seconds in Retry-After. Nothing is half-written.",
}

// particular is the title of some problems, and what to do about them, where those of
// their kind say too little.
var particular = map[string]struct{ title, advice string }{
	"feed-reset": {"The cursor is not of this feed",
		"Begin the feed again without a cursor, and read everything: the database was restored from a copy, or the cursor is not of this institution."},
	"json-malformed": {"The body is not one JSON value",
		"Send one JSON value: check quotes, commas and brackets, and that nothing follows its end."},
	"id-taken": {"The id is another record's", "Choose another id, or let the service make one."},
	"source-record-differs": {"This source record says something else here",
		"Read the record whose address the problem tells, and amend it with its ETag if yours is right."},
	"source-conflict": {"The record here says something else",
		"Both versions stand in the problem: state yours with the record's ETag, or leave it as it stands."},
	"source-ambiguous": {"Several records carry the number",
		"Send the id of the record that is meant, or say that this is another specimen."},
	"number-nearly-known": {"The number is nearly another specimen's",
		"Send the id of the specimen that is meant, or say that this is another specimen."},
	"institution-not-empty": {"The institution has recorded something",
		"Restore into an institution that has recorded nothing."},
	"retracted-already": {"The record is retracted already",
		"Nothing is to be done; amend the record to take its retraction back."},
	"report-not-ready":  {"The report is not made yet", "Ask again later; a webhook can tell when it is ready."},
	"report-over":       {"The report is kept no longer", "Ask for the report anew."},
	"secret-shown-once": {"The secret is shown once", "Make another secret; this one cannot be shown again."},
	"request-at-work": {"The same request is being worked on",
		"Send it again after the seconds in Retry-After; if the first one succeeded, its record is answered."},
}

// titleOf is the title of a problem with this code: what is particular to the code of all
// its faults, their kind's where the problem's code is that of the kind, or the code in words.
func titleOf(code string, faults fault.List) string {
	first := faults[0]
	other := func(f *fault.Fault) bool { return f.Code != first.Code }
	if p, known := particular[first.Code]; known && !slices.ContainsFunc(faults, other) {
		return p.title
	}
	if known := statuses[first.Kind]; code == known.slug {
		return known.title
	}
	return inWords(code)
}

// inWords is a code as words: "area-path-empty" is "Area path empty".
func inWords(code string) string {
	words := strings.ReplaceAll(code, "-", " ")
	return strings.ToUpper(words[:1]) + words[1:]
}

// mountProblemPages mounts the list of the codes of problems and a page for each.
func (s *Server) mountProblemPages() error {
	pages, err := problemPages()
	if err != nil {
		return err
	}
	for path, text := range pages {
		s.page(path, echoBytes("text/plain; charset=utf-8", []byte(text)))
	}
	return nil
}

// problemPages are the texts of the list and of each code's page, by path. They are the
// same for every server.
var problemPages = sync.OnceValues(func() (map[string]string, error) {
	texts, err := problemTexts()
	if err != nil {
		return nil, err
	}
	doc, err := api.Judged()
	if err != nil {
		return nil, err
	}
	operations := operationsByCode(doc)
	list := "The codes of problems, with the operations that can give them. Each code stands as `code` in the problem,\n" +
		"and what to do at /problems/CODE.\n\n"
	pages := map[string]string{}
	for _, code := range slices.Sorted(maps.Keys(texts)) {
		if operations[code] == "" {
			continue // the code of a kind whose problems always have one of their own
		}
		list += code + ": " + operations[code] + "\n"
		pages["/problems/"+code] = texts[code] + "\nOperations: " + operations[code] + ".\n"
	}
	pages["/problems"] = list
	return pages, nil
})

// problemTexts say what each code means and what to do: those of a kind, those of a single
// fault, and the service's own faults.
func problemTexts() (map[string]string, error) {
	texts := map[string]string{"internal": "internal (status 500)\n\nA fault of the service.\n\n" +
		"It is in the service's log under the problem's instance; sending the request again may help.\n"}
	for kind, known := range statuses {
		texts[known.slug] = known.slug + kindText(kind)
	}
	for line := range strings.Lines(problemCodes) {
		code, kinds, _ := strings.Cut(strings.TrimSuffix(line, "\n"), "\t")
		if code == "code" || texts[code] != "" {
			continue // the heading; a kind's own page says more
		}
		text := code
		for name := range strings.FieldsSeq(kinds) {
			kind, ok := kindNames[name]
			if !ok {
				return nil, fmt.Errorf("problem_codes.tsv: %s has an unknown kind %s", code, name)
			}
			text += kindText(kind)
		}
		if p, known := particular[code]; known {
			text += "\n" + p.title + ". " + p.advice + "\n"
		}
		texts[code] = text + "\nThe problem's detail says what is wrong in this request and how to mend it.\n"
	}
	return texts, nil
}

// operationsByCode names the operations that can give a problem with each code, as the
// contract lists them.
func operationsByCode(doc *openapi3.T) map[string]string {
	of := map[string][]string{}
	count := 0
	for _, item := range doc.Paths.Map() {
		for _, op := range item.Operations() {
			count++
			for _, code := range slices.Concat(slices.Collect(maps.Values(api.Codes(doc, op)))...) {
				if !slices.Contains(of[code], op.OperationID) {
					of[code] = append(of[code], op.OperationID)
				}
			}
		}
	}
	said := map[string]string{"path-unknown": "any path that is in no operation",
		"method-not-allowed": "any path, with a method that it does not take",
		"ror-check-digits":   "none; the command that sets up an institution", "ror-malformed": "none; the command that sets up an institution"}
	for code, operations := range of {
		slices.Sort(operations)
		said[code] = strings.Join(operations, ", ")
		if len(operations) == count {
			said[code] = "every operation"
		}
	}
	return said
}

// kindText says what a kind of problem means and what to do.
func kindText(kind fault.Kind) string {
	known := statuses[kind]
	return fmt.Sprintf(" (status %d)\n\n%s.\n\n%s\n", known.status, known.title, whatToDo[kind])
}
