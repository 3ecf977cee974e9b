package statement

import (
	"encoding/json"
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strings"

	jsonv2 "github.com/go-json-experiment/json"
	"github.com/go-json-experiment/json/jsontext"
	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/record"
)

// ErrRedacted says that an entry's words were redacted. An unknown record and
// unreadable words are other errors.
var ErrRedacted = errors.New("the words of this entry were redacted")

// Entry is what an entry's body holds.
type Entry struct {
	Reason    *string        `json:"reason"`
	Statement jsontext.Value `json:"statement"`
	Redacted  []int32        `json:"redactedRevisions"`
	Merged    *api.RecordRef `json:"mergedInto"`
	// Received says where the entry was recorded first, and through whom it came;
	// nil if that is here.
	Received *api.ReceivedFrom `json:"receivedFrom"`
	// SourceDigest is the digest of the statement as its source sent it
	// (ledger.FromSource); nil if this revision did not come from a source.
	SourceDigest *string `json:"sourceDigest"`
}

// OpenEntry reads an entry's body; ErrRedacted where it was redacted.
func OpenEntry(body *string) (Entry, error) {
	var e Entry
	if body == nil {
		return e, ErrRedacted
	}
	if err := jsonv2.Unmarshal([]byte(Shown(*body)), &e); err != nil {
		return Entry{}, fmt.Errorf("reading an entry's body: %w", err)
	}
	return e, nil
}

// formerly are the old names of members that were renamed, each with its present name.
// Stored words keep the old names, because their digests are of these bytes.
var formerly = [][2]string{{`"place":`, `"sequence":`}, {`"displayName":`, `"name":`}, {`"expiry":`, `"expires":`}}

// bareID and bareIDs are references as earlier versions wrote them, and as a merge still is:
// an id without the object around it, and the list of ids of what a removal took off.
// listedID is one of these.
var (
	bareID   = regexp.MustCompile(`("(?:event|plan|treatment|layer|sample|specimen|mergedInto)":)(` + anID + `)`)
	bareIDs  = regexp.MustCompile(`"treatments":\[` + anID + `(?:,` + anID + `)*\]`)
	listedID = regexp.MustCompile(anID)
)

const anID = `"[0-9a-fA-F]{8}(?:-[0-9a-fA-F]{4}){3}-[0-9a-fA-F]{12}"`

// Shown is an entry's body with the present names of its members, and references as
// objects. Replacing text is safe: in stored JSON, a name with its quotes and colon
// occurs only as a name.
func Shown(body string) string {
	if !maybeFormer(body) {
		return body
	}
	for _, names := range formerly {
		body = strings.ReplaceAll(body, names[0], names[1])
	}
	body = bareID.ReplaceAllString(body, `$1{"id":$2}`)
	return bareIDs.ReplaceAllStringFunc(body, func(list string) string {
		return listedID.ReplaceAllString(list, `{"id":$0}`)
	})
}

// maybeFormer tells a body in which Shown may have something to replace: a member that was renamed, or one other
// than an id with an id, or a list of ids. It looks at each member once; most bodies have none.
func maybeFormer(body string) bool {
	for before, after, found := strings.Cut(body, `":`); found; before, after, found = strings.Cut(after, `":`) {
		switch {
		case strings.HasPrefix(after, `["`):
			if strings.HasSuffix(before, `"treatments`) {
				return true
			}
		case len(after) > 37 && after[0] == '"' && after[9] == '-' && after[37] == '"' && !strings.HasSuffix(before, `"id`):
			return true
		}
		for _, names := range formerly {
			if strings.HasSuffix(before, names[0][:len(names[0])-len(`":`)]) {
				return true
			}
		}
	}
	return false
}

// WordsIn is the statement in an entry's body; nil where there is none.
func WordsIn(body *string) []byte {
	e, _ := OpenEntry(body) // unreadable bodies are reported where the statement is read
	return e.Statement
}

// MergedInto is the record that a revision merged its specimen into, or the zero UUID.
func MergedInto(body *string) uuid.UUID {
	e, _ := OpenEntry(body) // unreadable bodies are reported where the statement is read
	return deref(idIn(e.Merged))
}

// OfEntry reads the statement in an entry's body. The error is ErrRedacted for an entry
// without a statement (a retraction, a redaction).
func OfEntry(kind record.Kind, body *string) (*Reading, error) {
	e, err := OpenEntry(body)
	if err != nil {
		return nil, err
	}
	return e.Read(kind)
}

// Says tells whether an entry made here has these words as its statement.
func (e Entry) Says(words []byte) bool {
	return len(e.Statement) > 0 && e.Received == nil && Same(e.Statement, words)
}

// Read reads the statement of an entry of a record of the kind.
func (e Entry) Read(kind record.Kind) (*Reading, error) {
	if len(e.Statement) == 0 {
		return nil, ErrRedacted
	}
	reading, err := Read(kind, e.Statement)
	if err == nil && e.Received != nil {
		reading.received()
	}
	return reading, err
}

// received moves the authorisations of a statement from another institution to members
// of their own: they are the sender's claims and authorise nothing here.
func (r *Reading) received() {
	r.Received = true
	sent := func(here, elsewhere *record.Said[record.Authorisation]) {
		*here, *elsewhere = record.Said[record.Authorisation]{}, *here
	}
	switch v := r.Value.(type) {
	case *record.Treatment:
		sent(&v.Authorisation, &v.SendersAuthorisation)
	case *record.Plan:
		sent(&v.Authorisation, &v.SendersAuthorisation)
		sent(&v.Treatment.Authorisation, &v.Treatment.SendersAuthorisation)
	}
}

// With is a statement with a member set to a value, or without it if the value is nil;
// the other members stay unchanged.
func With(words []byte, name string, value any) ([]byte, error) {
	members, isObject := objectMembers(words)
	if !isObject {
		return nil, errors.New("editing a statement: it is no object")
	}
	members = slices.DeleteFunc(members, func(m member) bool { return m.name == name })
	if value != nil {
		set, err := json.Marshal(value)
		if err != nil {
			return nil, fmt.Errorf("editing a statement: %w", err)
		}
		members = append(members, member{name, set})
	}
	return objectOf(members), nil
}
