// Package access says who a caller is and what their key allows: the text of an
// access key, its digest, scopes, and the principal that a request acts as.
//
// It is pure: callers pass in random bytes, and it looks nothing up.
package access

import (
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"errors"
	"maps"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"
)

// Scope is one thing that a key may do.
type Scope string

// The scopes, narrowest first.
const (
	Read       Scope = "read"       // read records and reports on one specimen
	Record     Scope = "record"     // record specimens, treatments and people
	Stock      Scope = "stock"      // record supplies, batches and bottles
	Authorise  Scope = "authorise"  // authorise plans
	Report     Scope = "report"     // reports over many specimens
	Integrate  Scope = "integrate"  // follow changes, webhooks and imports
	Export     Scope = "export"     // everything that the institution recorded, in one file
	Restricted Scope = "restricted" // what restricted records say
	Administer Scope = "administer" // keys, redaction, the institution itself
)

// Calendar is the scope of a key that opens the calendar of what is due and nothing else. It
// stands alone, because the key is part of an address.
const Calendar Scope = "calendar"

// Scopes is every scope but Calendar.
func Scopes() []Scope {
	return []Scope{Read, Record, Stock, Authorise, Report, Integrate, Export, Restricted, Administer}
}

// Role is a set of scopes with a name.
type Role string

// The roles.
const (
	Reader        Role = "reader"
	Recorder      Role = "recorder"
	StockKeeper   Role = "stock-keeper"
	Authoriser    Role = "authoriser"
	Integrator    Role = "integrator"
	Administrator Role = "administrator"
)

var roles = map[Role][]Scope{
	Reader:        {Read, Report},
	Recorder:      {Read, Record},
	StockKeeper:   {Read, Stock},
	Authoriser:    {Read, Record, Authorise, Restricted},
	Integrator:    {Read, Record, Stock, Report, Integrate},
	Administrator: Scopes(),
}

// Roles is every role, in the order of their names.
func Roles() []Role { return slices.Sorted(maps.Keys(roles)) }

// Scopes are the scopes of a role; none if there is no such role.
func (r Role) Scopes() []Scope { return slices.Clone(roles[r]) }

// Principal is the identity that a request acts as.
type Principal struct {
	Institution uuid.UUID
	Key         uuid.UUID
	Person      uuid.UUID // in whose name it records
	Scopes      []Scope
	Ends        *time.Time // when the key expires; nil if it does not
}

// May tells whether the principal's key carries the scope.
func (p Principal) May(s Scope) bool { return slices.Contains(p.Scopes, s) }

// Key is the three parts of an access key's text. The institution is in it, so
// that looking the key up obeys row-level security.
type Key struct {
	Institution uuid.UUID
	ID          uuid.UUID
	Secret      [32]byte
}

const (
	prefix  = "meniscus_"
	rawSize = 16 + 16 + 32
)

// ErrNotAKey says that a text is not an access key of this service; the caller
// answers it like an unknown key.
var ErrNotAKey = errors.New("not an access key")

// Text is the key as it is shown once to its holder.
func (k Key) Text() string {
	raw := make([]byte, 0, rawSize)
	raw = append(raw, k.Institution[:]...)
	raw = append(raw, k.ID[:]...)
	raw = append(raw, k.Secret[:]...)
	return prefix + base64.RawURLEncoding.EncodeToString(raw)
}

// Prefix is what the key's text begins with: as many characters as tell which key it is, and
// none that the secret decides.
func (k Key) Prefix() string {
	public := Key{Institution: k.Institution, ID: k.ID}
	return public.Text()[:len(prefix)+(16+16)*8/6]
}

// Digest is what is kept of the secret.
func (k Key) Digest() [32]byte { return sha256.Sum256(k.Secret[:]) }

// FormToken is what a form of the session with this secret brings back: another site cannot know it.
func (k Key) FormToken() string {
	mac := hmac.New(sha256.New, k.Secret[:])
	mac.Write([]byte("form"))
	return base64.RawURLEncoding.EncodeToString(mac.Sum(nil))
}

// ParseKey reads a key's text, or gives ErrNotAKey.
func ParseKey(text string) (Key, error) {
	rest, ok := strings.CutPrefix(text, prefix)
	if !ok {
		return Key{}, ErrNotAKey
	}
	raw, err := base64.RawURLEncoding.Strict().DecodeString(rest)
	if err != nil || len(raw) != rawSize {
		return Key{}, ErrNotAKey
	}
	var k Key
	copy(k.Institution[:], raw[:16])
	copy(k.ID[:], raw[16:32])
	copy(k.Secret[:], raw[32:])
	return k, nil
}
