package ledger_test

import (
	"crypto/ed25519"
	"encoding/base64"
	"strings"
	"testing"

	"github.com/google/uuid"
	"golang.org/x/mod/sumdb/tlog"

	"meniscus/internal/ledger"
)

// What a sender signed is proved, and nothing else: not another package, not of another sender,
// not with another key, and a checkpoint is no package. The signature is Ed25519 (RFC 8032).
func TestAPackageIsProved(t *testing.T) {
	t.Parallel()
	s, keys := signers(t, oldSeed)
	_, others := signers(t, newSeed)
	digest := strings.Repeat("0a", 32)
	signed, err := s.SignPackage(institution, digest)
	if err != nil {
		t.Fatal(err)
	}
	checkpoint, err := s.Sign(ledger.Checkpoint{Origin: ledger.Origin(institution), Root: tlog.RecordHash(nil)})
	if err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		signed      []byte
		sender      uuid.UUID
		digest, key string
		proved      bool
	}{
		"as it was signed": {signed, institution, digest, keys[0], true},
		"other lines":      {signed, institution, strings.Repeat("0b", 32), keys[0], false},
		"another sender":   {signed, uuid.New(), digest, keys[0], false},
		"another key":      {signed, institution, digest, others[0], false},
		"no key":           {signed, institution, digest, "meniscus/", false},
		"not signed":       {nil, institution, digest, keys[0], false},
		"a checkpoint":     {checkpoint, institution, digest, keys[0], false},
	} {
		if err := ledger.ProvePackage(c.signed, c.sender, c.digest, c.key); (err == nil) != c.proved {
			t.Errorf("%s: got %v, want proved %t", name, err, c.proved)
		}
	}
	if _, err := ledger.ReadCheckpoint(signed, keys); err == nil {
		t.Error("a signed package is taken for a checkpoint")
	}
	text, rest, _ := strings.Cut(string(signed), "\n\n")
	parts := strings.Fields(rest)
	signature, err := base64.StdEncoding.DecodeString(parts[len(parts)-1])
	seed, _ := base64.StdEncoding.DecodeString(oldSeed)
	public, _ := ed25519.NewKeyFromSeed(seed).Public().(ed25519.PublicKey)
	if err != nil || !ed25519.Verify(public, []byte(text+"\n"), signature[4:]) {
		t.Errorf("got %x, %v", signature, err)
	}
}
