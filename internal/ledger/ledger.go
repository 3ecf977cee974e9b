// Package ledger is what makes the record provable: how an entry's words become
// its digest, and what an act is. It holds no storage and makes no randomness.
package ledger

import "crypto/sha256"

// NonceSize is the size of the random bytes that go before an entry's words in
// its digest, so that after a redaction nobody can guess the words from it.
const NonceSize = 16

// Act is what an entry does to its record.
type Act string

// The acts.
const (
	Stated    Act = "stated"    // the first statement
	Amended   Act = "amended"   // a whole new statement, with its reason
	Retracted Act = "retracted" // it should not have been recorded; taken back by an amendment
	Redacted  Act = "redacted"  // words of earlier revisions are gone
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
