package ledger

import (
	"errors"
	"fmt"

	"github.com/google/uuid"
	"golang.org/x/mod/sumdb/note"
)

// packageText is what a sender signs of a package of a specimen: who sends it, that it is a
// package (where a checkpoint has its size), and the SHA-256 of its lines in hexadecimal.
func packageText(sender uuid.UUID, sha256 string) string {
	return fmt.Sprintf("%s\npackage\n%s\n", Origin(sender), sha256)
}

// SignPackage signs a package of a sender, as a note.
func (s Signers) SignPackage(sender uuid.UUID, sha256 string) ([]byte, error) {
	return s.sign(Origin(sender), packageText(sender, sha256))
}

// ProvePackage checks that a sender's key, in the form of note.NewVerifier, signed a package.
// The error says in a sentence why it is not proved.
func ProvePackage(signed []byte, sender uuid.UUID, sha256, key string) error {
	verifier, err := note.NewVerifier(key)
	switch {
	case err != nil:
		return fmt.Errorf("the sender's key cannot be read: %w", err)
	case verifier.Name() != Origin(sender):
		return fmt.Errorf("the key is of %s, and the package says that it is from %s", verifier.Name(), Origin(sender))
	case len(signed) == 0:
		return errors.New("the package is not signed")
	}
	opened, err := note.Open(signed, note.VerifierList(verifier))
	switch {
	case err != nil:
		return fmt.Errorf("the package is not signed with this key: %w", err)
	case opened.Text != packageText(sender, sha256):
		return errors.New("what is signed is another package")
	}
	return nil
}
