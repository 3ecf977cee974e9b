package ledger

import (
	"bytes"
	"crypto/ed25519"
	"encoding/base64"
	"errors"
	"fmt"
	"strconv"
	"strings"

	"github.com/google/uuid"
	"golang.org/x/mod/sumdb/note"
	"golang.org/x/mod/sumdb/tlog"
)

// Checkpoint is the head of a log: how many leaves it has, and the root over them.
type Checkpoint struct {
	Origin string // whose log it is
	Size   int64
	Root   tlog.Hash
}

// Origin names an institution's log, and the keys that sign it.
func Origin(institution uuid.UUID) string { return "meniscus/" + institution.String() }

// Institution is the institution whose log a checkpoint is of.
func (c Checkpoint) Institution() (uuid.UUID, error) {
	id, ours := strings.CutPrefix(c.Origin, "meniscus/")
	institution, err := uuid.Parse(id)
	if !ours || err != nil {
		return uuid.Nil, fmt.Errorf("%q is not the name of an institution's log", c.Origin)
	}
	return institution, nil
}

// Text is the checkpoint's text (c2sp.org/tlog-checkpoint): origin, size in decimal, and
// root in base64, a line each.
func (c Checkpoint) Text() string {
	return fmt.Sprintf("%s\n%d\n%s\n", c.Origin, c.Size, c.Root)
}

// errNoCheckpoint says that a file is not a checkpoint; the caller looks for the right one.
var errNoCheckpoint = errors.New("this is not a checkpoint: a signed note of which the first lines are " +
	"the log, how many entries it has, and a hash in base64")

// ReadCheckpoint reads a signed note, of which the first lines are a checkpoint. Each key
// in verifiers, in the form of note.NewVerifier, must have signed it; signatures of other
// keys are not looked at.
func ReadCheckpoint(signed []byte, verifiers []string) (Checkpoint, error) {
	text, _, ok := bytes.Cut(signed, []byte("\n\n"))
	if !ok {
		return Checkpoint{}, errNoCheckpoint
	}
	for _, key := range verifiers {
		verifier, err := note.NewVerifier(key)
		if err != nil {
			return Checkpoint{}, fmt.Errorf("the key %q cannot be read: %w", key, err)
		}
		if _, err := note.Open(signed, note.VerifierList(verifier)); err != nil {
			return Checkpoint{}, fmt.Errorf("the checkpoint is not signed by %s: %w", key, err)
		}
	}
	lines := strings.Split(string(text), "\n")
	if len(lines) < 3 {
		return Checkpoint{}, errNoCheckpoint
	}
	size, err := strconv.ParseInt(lines[1], 10, 64)
	if err != nil || size < 0 || lines[1] != strconv.FormatInt(size, 10) {
		return Checkpoint{}, errNoCheckpoint
	}
	root, err := tlog.ParseHash(lines[2])
	if err != nil {
		return Checkpoint{}, errNoCheckpoint
	}
	return Checkpoint{lines[0], size, root}, nil
}

// Signers are the keys that sign checkpoints, the newest first. While there are several,
// all of them sign, so that who knows only the old key can still read what the new one signs.
type Signers []ed25519.PrivateKey

// ParseSigners reads keys of 32 random bytes in base64, with commas between; the newest
// is first.
func ParseSigners(text string) (Signers, error) {
	var signers Signers
	for part := range strings.SplitSeq(text, ",") {
		seed, err := base64.StdEncoding.DecodeString(strings.TrimSpace(part))
		if err != nil || len(seed) != ed25519.SeedSize {
			return nil, errors.New("write 32 random bytes in base64, as `openssl rand -base64 32` makes them; " +
				"several with commas between, the newest first")
		}
		signers = append(signers, ed25519.NewKeyFromSeed(seed))
	}
	return signers, nil
}

// Verifiers are the public keys that check the signatures on an institution's log, in the
// form of note.NewVerifier, the newest first.
func (s Signers) Verifiers(origin string) ([]string, error) {
	verifiers := make([]string, len(s))
	for i, key := range s {
		public, _ := key.Public().(ed25519.PublicKey) // of an Ed25519 key it is always one
		var err error
		if verifiers[i], err = note.NewEd25519VerifierKey(origin, public); err != nil {
			return nil, fmt.Errorf("making a verifier of the log: %w", err)
		}
	}
	return verifiers, nil
}

// Sign signs a checkpoint, as a note.
func (s Signers) Sign(c Checkpoint) ([]byte, error) { return s.sign(c.Origin, c.Text()) }

// sign signs a text as a note, with the keys under the name of a log.
func (s Signers) sign(origin, text string) ([]byte, error) {
	verifiers, err := s.Verifiers(origin)
	if err != nil {
		return nil, err
	}
	signers := make([]note.Signer, len(s))
	for i, key := range s {
		verifier, err := note.NewVerifier(verifiers[i])
		if err != nil {
			return nil, fmt.Errorf("making a signer of the log: %w", err)
		}
		// The form of note.NewSigner; 1 is Ed25519.
		signers[i], err = note.NewSigner(fmt.Sprintf("PRIVATE+KEY+%s+%08x+%s", origin, verifier.KeyHash(),
			base64.StdEncoding.EncodeToString(append([]byte{1}, key.Seed()...))))
		if err != nil {
			return nil, fmt.Errorf("making a signer of the log: %w", err)
		}
	}
	signed, err := note.Sign(&note.Note{Text: text}, signers...)
	if err != nil {
		return nil, fmt.Errorf("signing a note: %w", err)
	}
	return signed, nil
}
