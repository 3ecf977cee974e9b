// Package webhook holds the rules of deliveries: secrets and signatures, retry
// delays, and addresses that must not be delivered to.
//
// Signatures are Standard Webhooks 1.0 (symmetric, `v1`). The package is pure: it
// sends nothing; callers pass in the time and random bytes.
package webhook

import (
	"crypto/aes"
	"crypto/cipher"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"

	"github.com/google/uuid"
)

// Secret is the key that an endpoint's deliveries are signed with: 24 to 64
// random bytes.
type Secret []byte

// SecretSize is the size of the secrets that the service makes.
const SecretSize = 32

const (
	secretPrefix = "whsec_"
	shortest     = 24
	longest      = 64
)

// ErrSecret says that a secret is not valid; signatures with an empty or short
// one could be forged.
var ErrSecret = errors.New("a webhook secret is 24 to 64 bytes")

// Text is the secret as its receiver keeps it.
func (s Secret) Text() string { return secretPrefix + base64.StdEncoding.EncodeToString(s) }

// Sign gives the signature of one delivery: HMAC-SHA256 over its id, the moment
// of the attempt in seconds and the exact bytes of its body, joined by full
// stops.
func (s Secret) Sign(id string, at time.Time, body []byte) (string, error) {
	if len(s) < shortest || len(s) > longest {
		return "", ErrSecret
	}
	mac := hmac.New(sha256.New, s)
	fmt.Fprintf(mac, "%s.%d.", id, at.Unix())
	mac.Write(body)
	return "v1," + base64.StdEncoding.EncodeToString(mac.Sum(nil)), nil
}

// Headers are the three headers of a delivery, signed with every secret that is
// in force, so that a receiver accepts either while one is being replaced.
func Headers(id string, at time.Time, body []byte, secrets []Secret) (map[string]string, error) {
	if len(secrets) == 0 {
		return nil, ErrSecret
	}
	signatures := make([]string, len(secrets))
	for i, s := range secrets {
		var err error
		if signatures[i], err = s.Sign(id, at, body); err != nil {
			return nil, err
		}
	}
	return map[string]string{
		"webhook-id":        id,
		"webhook-timestamp": strconv.FormatInt(at.Unix(), 10),
		"webhook-signature": strings.Join(signatures, " "),
	}, nil
}

// Keeper encrypts secrets for storage. Signing needs the secret itself, so a
// digest is not enough; a stolen copy of the database does not reveal them
// without the keeper's key.
type Keeper struct{ keys []keeperKey }

type keeperKey struct {
	id   [4]byte
	aead cipher.AEAD
}

// KeeperKeySize is the size of a keeper's key: AES-256.
const KeeperKeySize = 32

// ErrKept says that a kept secret cannot be read: its key is not among the
// keeper's, or it was kept for another webhook or secret. The operator must
// restore the key, or the endpoint's owner makes a new secret.
var ErrKept = errors.New("a kept webhook secret cannot be read with the keys at hand")

// NewKeeper makes a keeper from keys in base64, separated by commas. The first
// encrypts, all decrypt: to replace a key, put a new one before it.
func NewKeeper(keys string) (*Keeper, error) {
	k := &Keeper{}
	for text := range strings.SplitSeq(keys, ",") {
		raw, err := base64.StdEncoding.DecodeString(strings.TrimSpace(text))
		if err != nil || len(raw) != KeeperKeySize {
			return nil, errors.New("write 32 random bytes in base64, such as `openssl rand -base64 32` gives; " +
				"several with commas between, the newest first")
		}
		block, err := aes.NewCipher(raw)
		if err != nil {
			return nil, fmt.Errorf("making a cipher: %w", err)
		}
		aead, err := cipher.NewGCM(block)
		if err != nil {
			return nil, fmt.Errorf("making a cipher: %w", err)
		}
		digest := sha256.Sum256(raw)
		k.keys = append(k.keys, keeperKey{[4]byte(digest[:4]), aead})
	}
	return k, nil
}

// About ties a kept secret to its institution, webhook and id, so that it cannot
// replace another one.
func About(institution, hook, secret uuid.UUID) string {
	return institution.String() + "/" + hook.String() + "/" + secret.String()
}

// NonceSize is the size of the random bytes that Keep needs, new for each secret.
const NonceSize = 12

// Keep encrypts a secret (AES-256-GCM) and ties it to what it is about: the key's
// id, the nonce, the ciphertext.
func (k *Keeper) Keep(s Secret, about string, nonce [NonceSize]byte) []byte {
	key := k.keys[0]
	kept := append(append([]byte{}, key.id[:]...), nonce[:]...)
	return key.aead.Seal(kept, nonce[:], s, []byte(about))
}

// Open decrypts what Keep encrypted with the same about, or gives ErrKept.
func (k *Keeper) Open(kept []byte, about string) (Secret, error) {
	if len(kept) < 4+NonceSize {
		return nil, ErrKept
	}
	for _, key := range k.keys {
		if key.id == [4]byte(kept[:4]) {
			s, err := key.aead.Open(nil, kept[4:4+NonceSize], kept[4+NonceSize:], []byte(about))
			if err != nil {
				return nil, ErrKept
			}
			return s, nil
		}
	}
	return nil, ErrKept
}
