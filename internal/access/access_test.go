package access_test

import (
	"errors"
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
