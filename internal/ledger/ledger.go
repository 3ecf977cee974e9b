// Package ledger makes the record provable: it defines the digest of an entry's
// words, the acts, and the log of an institution: its leaves, its tree (RFC 9162), its
// signed checkpoints, and the comparison of entries with checkpoints that someone kept.
// It stores nothing and makes no random bytes.
package ledger

import "crypto/sha256"

// NonceSize is the size of the random bytes that go before an entry's words in
// its digest, so that after a redaction the words cannot be guessed from it.
const NonceSize = 16

// Act is what an entry does to its record.
type Act string

// The acts.
const (
	Stated    Act = "stated"    // the first statement
	Amended   Act = "amended"   // a whole new statement, with its reason
	Retracted Act = "retracted" // it should not have been recorded; taken back by an amendment
	Redacted  Act = "redacted"  // words of earlier revisions were deleted
)

// Digest is SHA-256 over the nonce followed by the entry's body, byte for byte.
func Digest(nonce, body []byte) [32]byte {
	h := sha256.New()
	h.Write(nonce)
	h.Write(body)
	return [32]byte(h.Sum(nil))
}

// Acts is every act.
func Acts() []Act { return []Act{Stated, Amended, Retracted, Redacted} }
