package ledger_test

import (
	"bytes"
	"crypto/ed25519"
	"crypto/rand"
	"encoding/base64"
	"strings"
	"testing"

	"github.com/google/uuid"
	"golang.org/x/mod/sumdb/note"
	"golang.org/x/mod/sumdb/tlog"

	"meniscus/internal/ledger"
)

const (
	oldSeed = "AAECAwQFBgcICQoLDA0ODxAREhMUFRYXGBkaGxwdHh8="
	newSeed = "HxwdHBsaGRgXFhUUExIREA8ODQwLCgkIBwYFBAMCAQA="
)

var institution = uuid.MustParse("01900000-0000-7000-8000-00000000d3f0")

func signers(t *testing.T, seeds string) (s ledger.Signers, verifiers []string) {
	t.Helper()
	s, err := ledger.ParseSigners(seeds)
	if err != nil {
		t.Fatal(err)
	}
	if verifiers, err = s.Verifiers(ledger.Origin(institution)); err != nil {
		t.Fatal(err)
	}
	return s, verifiers
}

func TestACheckpointIsANote(t *testing.T) {
	t.Parallel()
	s, verifiers := signers(t, oldSeed)
	want := ledger.Checkpoint{Origin: ledger.Origin(institution), Size: 3, Root: publishedLog(t).root(t, 3)}
	signed, err := s.Sign(want)
	if err != nil {
		t.Fatal(err)
	}
	if !strings.HasPrefix(string(signed), want.Text()+"\n\u2014 "+want.Origin+" ") {
		t.Errorf("got %s", signed)
	}
	got, err := ledger.ReadCheckpoint(signed, verifiers)
	if err != nil || got != want {
		t.Errorf("got %v, %v; want %v", got, err, want)
	}
	if id, err := got.Institution(); err != nil || id != institution {
		t.Errorf("got the institution %v, %v", id, err)
	}
	for i := range signed {
		altered := bytes.Clone(signed)
		altered[i] ^= 1
		if got, err := ledger.ReadCheckpoint(altered, verifiers); err == nil && got != want {
			t.Errorf("byte %d altered: got %v, want an error", i, got)
		}
	}
}

// The signature is Ed25519 over the text (RFC 8032), after four bytes that name the key.
func TestTheSignatureIsEd25519(t *testing.T) {
	t.Parallel()
	s, _ := signers(t, oldSeed)
	signed, err := s.Sign(ledger.Checkpoint{Origin: ledger.Origin(institution), Root: tlog.RecordHash(nil)})
	if err != nil {
		t.Fatal(err)
	}
	text, rest, _ := strings.Cut(string(signed), "\n\n")
	parts := strings.Fields(rest)
	signature, err := base64.StdEncoding.DecodeString(parts[len(parts)-1])
	seed, _ := base64.StdEncoding.DecodeString(oldSeed)
	public, _ := ed25519.NewKeyFromSeed(seed).Public().(ed25519.PublicKey)
	if err != nil || len(signature) != 4+64 || !ed25519.Verify(public, []byte(text+"\n"), signature[4:]) {
		t.Errorf("got %x, %v", signature, err)
	}
}

// While there are two keys both sign: who knows the old one reads what the new one signs.
func TestKeysRotate(t *testing.T) {
	t.Parallel()
	c := ledger.Checkpoint{Origin: ledger.Origin(institution), Size: 1, Root: tlog.RecordHash([]byte("x"))}
	old, oldKey := signers(t, oldSeed)
	both, keys := signers(t, newSeed+", "+oldSeed)
	after, newKey := signers(t, newSeed)
	if keys[0] != newKey[0] || keys[1] != oldKey[0] {
		t.Fatalf("got %v, want the newest first", keys)
	}
	for _, of := range []struct {
		name     string
		by       ledger.Signers
		old, new bool
	}{{"old", old, true, false}, {"both", both, true, true}, {"new", after, false, true}} {
		signed, err := of.by.Sign(c)
		if err != nil {
			t.Fatal(err)
		}
		_, byOld := ledger.ReadCheckpoint(signed, oldKey)
		_, byNew := ledger.ReadCheckpoint(signed, newKey)
		if (byOld == nil) != of.old || (byNew == nil) != of.new {
			t.Errorf("signed by %s: got %v with the old key, %v with the new one", of.name, byOld, byNew)
		}
	}
}

// A witness adds its signature to the note, and a reader may want both.
func TestAWitnessCosigns(t *testing.T) {
	t.Parallel()
	secret, public, err := note.GenerateKey(rand.Reader, "witness.example")
	if err != nil {
		t.Fatal(err)
	}
	witness, err := note.NewSigner(secret)
	if err != nil {
		t.Fatal(err)
	}
	s, keys := signers(t, oldSeed)
	c := ledger.Checkpoint{Origin: ledger.Origin(institution), Size: 1, Root: tlog.RecordHash([]byte("x"))}
	signed, err := s.Sign(c)
	if err != nil {
		t.Fatal(err)
	}
	wanted := append(keys, public)
	if _, err := ledger.ReadCheckpoint(signed, wanted); err == nil {
		t.Error("got no error without the witness's signature, want one")
	}
	ours, err := note.NewVerifier(keys[0])
	if err != nil {
		t.Fatal(err)
	}
	opened, err := note.Open(signed, note.VerifierList(ours))
	if err != nil {
		t.Fatal(err)
	}
	cosigned, err := note.Sign(opened, witness)
	if err != nil {
		t.Fatal(err)
	}
	if got, err := ledger.ReadCheckpoint(cosigned, wanted); err != nil || got != c {
		t.Errorf("got %v, %v; want %v", got, err, c)
	}
}

func TestWhatIsNoCheckpointIsRefused(t *testing.T) {
	t.Parallel()
	for _, text := range []string{"", "meniscus/x\n3\n", "meniscus/x\n3\n\n", "meniscus/x\n-1\nAAAA\n\n",
		"meniscus/x\n03\nrrqxb+xh9ip4n2lU2VK1W/nMt4FNJrJtSTKCCgEoyW4=\n\n", "meniscus/x\n3\nAAAA\n\n"} {
		if got, err := ledger.ReadCheckpoint([]byte(text), nil); err == nil {
			t.Errorf("%q: got %v, want an error", text, got)
		}
	}
	if _, err := (ledger.Checkpoint{Origin: "go.sum database tree"}).Institution(); err == nil {
		t.Error("got an institution of another log, want an error")
	}
	for _, text := range []string{"", "AAAA", oldSeed + ",", oldSeed + ";" + newSeed} {
		if _, err := ledger.ParseSigners(text); err == nil {
			t.Errorf("%q: got keys, want an error", text)
		}
	}
}
