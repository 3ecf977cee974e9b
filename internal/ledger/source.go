package ledger

import (
	"crypto/sha256"
	"encoding/hex"
	"slices"
	"strings"
)

// fromSource is the beginning of the body of an entry that a source stated.
const fromSource = `{"sourceDigest":"`

// FromSource is an entry's body that says which statement its source sent: the
// SHA-256 of the statement's canonical form stands before the other members. The
// body is a JSON object with at least one member.
func FromSource(body, canonical []byte) []byte {
	return slices.Concat([]byte(fromSource+SourceDigest(canonical)+`",`), body[1:])
}

// SourceDigest is the SHA-256 of a statement's canonical form, in hexadecimal.
func SourceDigest(canonical []byte) string {
	sum := sha256.Sum256(canonical)
	return hex.EncodeToString(sum[:])
}

// SaidBySource splits an entry's body: the digest of the statement that its
// source sent ("" where no source stated it), and the body without it.
func SaidBySource(body string) (digest, rest string) {
	after, sourced := strings.CutPrefix(body, fromSource)
	if !sourced || len(after) < 2*sha256.Size+2 {
		return "", body
	}
	return after[:2*sha256.Size], "{" + after[2*sha256.Size+2:]
}
