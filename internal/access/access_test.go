package access_test

import (
	"errors"
	"slices"
	"strings"
	"testing"

	"github.com/google/uuid"

	"meniscus/internal/access"
)

func TestKeyTextRoundTrip(t *testing.T) {
	t.Parallel()
	want := access.Key{Institution: uuid.New(), ID: uuid.New(), Secret: [32]byte{1, 2, 3}}
	got, err := access.ParseKey(want.Text())
	if err != nil || got != want {
		t.Errorf("ParseKey(%q) = %v, %v; want the key back", want.Text(), got, err)
	}
}

func TestParseKeyRefuses(t *testing.T) {
	t.Parallel()
	good := access.Key{Institution: uuid.New()}.Text()
	for _, text := range []string{"", "meniscus_", good[1:], good + "A", good[:len(good)-1], good[:20] + "*" + good[21:]} {
		if _, err := access.ParseKey(text); !errors.Is(err, access.ErrNotAKey) {
			t.Errorf("ParseKey(%q) = %v, want ErrNotAKey", text, err)
		}
	}
}

// The prefix tells keys apart, and says nothing of the secret: whatever that is, it stays the same.
func TestPrefixIsOfTheKeyAndNotOfItsSecret(t *testing.T) {
	t.Parallel()
	key := access.Key{Institution: uuid.New(), ID: uuid.New()}
	for b := range 256 {
		key.Secret[0] = byte(b)
		if !strings.HasPrefix(key.Text(), key.Prefix()) {
			t.Fatalf("%s does not begin with %s", key.Text(), key.Prefix())
		}
	}
	for bit := range 4 { // the last character of the two ids is shared with the secret, and left out
		other := key
		other.ID[15] ^= 1 << (4 + bit)
		if other.Prefix() == key.Prefix() {
			t.Errorf("two keys have the prefix %s", key.Prefix())
		}
	}
}

// Each role reads; the narrower ones have nothing of the wider.
func TestRoles(t *testing.T) {
	t.Parallel()
	for _, role := range access.Roles() {
		if !slices.Contains(role.Scopes(), access.Read) {
			t.Errorf("%s does not read", role)
		}
		for _, scope := range []access.Scope{access.Administer, access.Export} {
			if slices.Contains(role.Scopes(), scope) != (role == access.Administrator) {
				t.Errorf("%s: %v", role, role.Scopes())
			}
		}
		sees := role == access.Authoriser || role == access.Administrator
		if slices.Contains(role.Scopes(), access.Restricted) != sees {
			t.Errorf("%s: %v", role, role.Scopes())
		}
	}
	if got := access.Role("owner").Scopes(); len(got) != 0 || !slices.Equal(access.Administrator.Scopes(), access.Scopes()) {
		t.Errorf("an unknown role has %v, an administrator %v", got, access.Administrator.Scopes())
	}
}
