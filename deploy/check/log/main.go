// Command log holds the log of a running service against other people's code:
// transparency-dev/formats reads its checkpoints, transparency-dev/merkle verifies its
// proofs, and refuses each of them after an alteration. AT and KEY say where the service is.
package main

import (
	"bytes"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"slices"
	"strings"

	formats "github.com/transparency-dev/formats/log"
	"github.com/transparency-dev/merkle/proof"
	"github.com/transparency-dev/merkle/rfc6962"
	"golang.org/x/mod/sumdb/note"
)

func main() {
	n, err := check()
	if err != nil {
		fmt.Fprintln(os.Stderr, "log:", err)
		os.Exit(1)
	}
	fmt.Printf("log: %d proofs verified, and refused after each alteration\n", n)
}

// ask sends a request and gives the answer's body.
func ask(method, path, body string) ([]byte, error) {
	r, err := http.NewRequest(method, os.Getenv("AT")+path, strings.NewReader(body))
	if err != nil {
		return nil, err
	}
	r.Header.Set("Authorization", "Bearer "+os.Getenv("KEY"))
	if body != "" {
		r.Header.Set("Content-Type", "application/json")
	}
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		return nil, err
	}
	defer answer.Body.Close()
	read, err := io.ReadAll(answer.Body)
	if err == nil && answer.StatusCode >= http.StatusMultipleChoices {
		err = fmt.Errorf("%s %s: %d %s", method, path, answer.StatusCode, read)
	}
	return read, err
}

type answered struct {
	Leaf   string
	Hashes []string
	Items  []struct{ Verifier string }
}

func get(path string) (a answered, hashes [][]byte, err error) {
	body, err := ask(http.MethodGet, path, "")
	if err == nil {
		err = json.Unmarshal(body, &a)
	}
	for _, text := range a.Hashes {
		hash, bad := hex.DecodeString(text)
		err = errors.Join(err, bad)
		hashes = append(hashes, hash)
	}
	return a, hashes, err
}

// head reads a checkpoint, by the key that the service lists.
func head() (*formats.Checkpoint, error) {
	keys, _, err := get("/v1/log/keys")
	if err != nil || len(keys.Items) != 1 {
		return nil, fmt.Errorf("%d keys: %w", len(keys.Items), err)
	}
	verifier, err := note.NewVerifier(keys.Items[0].Verifier)
	if err != nil {
		return nil, err
	}
	signed, err := ask(http.MethodGet, "/v1/log/checkpoint", "")
	if err != nil {
		return nil, err
	}
	point, _, _, err := formats.ParseCheckpoint(signed, verifier.Name(), verifier)
	return point, err
}

// grown waits until what was recorded is in the log.
func grown(from uint64) (*formats.Checkpoint, error) {
	for {
		if now, err := head(); err != nil || now.Size > from {
			return now, err
		}
	}
}

func check() (proofs int, err error) {
	before, err := grown(1)
	if err != nil {
		return 0, err
	}
	const person = `{"source": {"system": "log", "recordId": "1"}, "statement": {"name": "Ada Holm"}}`
	if _, err := ask(http.MethodPost, "/v1/people", person); err != nil {
		return 0, err
	}
	after, err := grown(before.Size)
	if err != nil {
		return 0, err
	}
	for sequence := uint64(1); sequence <= after.Size; sequence++ {
		a, hashes, err := get(fmt.Sprintf("/v1/log/proofs?sequence=%d&size=%d", sequence, after.Size))
		if err != nil {
			return 0, err
		}
		leaf := rfc6962.DefaultHasher.HashLeaf([]byte(a.Leaf))
		verify := func(leaf, root []byte, hashes [][]byte) error {
			return proof.VerifyInclusion(rfc6962.DefaultHasher, sequence-1, after.Size, leaf, hashes, root)
		}
		if err := verified(verify, leaf, after.Hash, hashes); err != nil {
			return 0, fmt.Errorf("entry %d: %w", sequence, err)
		}
		proofs++
	}
	_, hashes, err := get(fmt.Sprintf("/v1/log/proofs?from=%d&size=%d", before.Size, after.Size))
	if err != nil {
		return 0, err
	}
	verify := func(was, root []byte, hashes [][]byte) error {
		return proof.VerifyConsistency(rfc6962.DefaultHasher, before.Size, after.Size, hashes, was, root)
	}
	return proofs + 1, verified(verify, before.Hash, after.Hash, hashes)
}

// verified tells whether a proof verifies, and no more after any of its hashes was altered.
func verified(verify func(first, root []byte, hashes [][]byte) error, first, root []byte, hashes [][]byte) error {
	if err := verify(first, root, hashes); err != nil {
		return err
	}
	other := func(hash []byte) []byte { hash = bytes.Clone(hash); hash[0] ^= 1; return hash }
	wrong := []error{verify(other(first), root, hashes), verify(first, other(root), hashes)}
	for i := range hashes {
		altered := slices.Clone(hashes)
		altered[i] = other(altered[i])
		wrong = append(wrong, verify(first, root, altered))
	}
	if slices.Contains(wrong, nil) {
		return errors.New("verified after an alteration")
	}
	return nil
}
