package ledger_test

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"testing"

	"golang.org/x/mod/sumdb/tlog"
	"pgregory.net/rapid"

	"meniscus/internal/ledger"
)

// published are the leaves, in hexadecimal, and the roots of trees of their first one to
// eight, of the tests of Certificate Transparency's Merkle tree
// (transparency-dev/merkle, testonly/constants.go).
var published = []string{"", "00", "10", "2021", "3031", "40414243", "5051525354555657",
	"606162636465666768696a6b6c6d6e6f"}

// roots are those of Y129 and Y130 by size; that of no leaf is SHA-256 of nothing (RFC 9162, section 2.1.1).
var roots = map[int]string{
	0: "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
	3: "aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
	7: "ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
	8: "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
}

// log is a log as it is kept: what each leaf keeps.
type log struct {
	tree ledger.Tree
	kept [][]byte
}

func (l *log) add(t interface{ Fatal(...any) }, leaf tlog.Hash) {
	kept, err := l.tree.Add(leaf)
	if err != nil {
		t.Fatal(err)
	}
	l.kept = append(l.kept, kept)
}

func (l *log) ReadHashes(stored []int64) ([]tlog.Hash, error) {
	var hashes []tlog.Hash
	for _, number := range stored {
		sequence, position := ledger.Place(number)
		if sequence > int64(len(l.kept)) {
			return nil, errors.New("not in the log")
		}
		hash, err := ledger.KeptAt(l.kept[sequence-1], position)
		if err != nil {
			return nil, err
		}
		hashes = append(hashes, hash)
	}
	return hashes, nil
}

func (l *log) root(t interface{ Fatal(...any) }, size int64) tlog.Hash {
	root, err := tlog.TreeHash(size, l)
	if err != nil {
		t.Fatal(err)
	}
	return root
}

func unhex(t *testing.T, text string) []byte {
	t.Helper()
	b, err := hex.DecodeString(text)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func publishedLog(t *testing.T) *log {
	t.Helper()
	l := &log{}
	for _, leaf := range published {
		l.add(t, tlog.RecordHash(unhex(t, leaf)))
	}
	return l
}

func TestPublishedRoots(t *testing.T) {
	t.Parallel()
	var tree ledger.Tree
	for size := range len(published) + 1 {
		root, err := tree.Root()
		if err != nil {
			t.Fatal(err)
		}
		if want, given := roots[size]; given && hex.EncodeToString(root[:]) != want {
			t.Errorf("%d leaves: got the root %x, want %s", size, root[:], want)
		}
		if size < len(published) {
			if _, err := tree.Add(tlog.RecordHash(unhex(t, published[size]))); err != nil {
				t.Fatal(err)
			}
		}
	}
}

func same(t *testing.T, what string, got []tlog.Hash, want ...string) {
	t.Helper()
	if len(got) != len(want) {
		t.Fatalf("%s: got %d hashes, want %d", what, len(got), len(want))
	}
	for i, hash := range got {
		if hex.EncodeToString(hash[:]) != want[i] {
			t.Errorf("%s: hash %d: got %x, want %s", what, i, hash[:], want[i])
		}
	}
}

// The proofs of RFC 9162, sections 2.1.3.1 and 2.1.4.1, over the published leaves.
func TestPublishedProofs(t *testing.T) {
	t.Parallel()
	l := publishedLog(t)
	first, err := tlog.ProveRecord(8, 0, l)
	if err != nil {
		t.Fatal(err)
	}
	same(t, "leaf 0 of 8", first, "96a296d224f285c67bee93c30f8a309157f0daa35dc5b87e410b78630a09cfc7",
		"5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e",
		"6b47aaf29ee3c2af9af889bc1fb9254dabd31177f16232dd6aab035ca39bf6e4")
	seventh, err := tlog.ProveRecord(8, 6, l)
	if err != nil {
		t.Fatal(err)
	}
	same(t, "leaf 6 of 8", seventh, "46f6ffadd3d06a09ff3c5860d2755c8b9819db7df44251788c7d8e3180de8eb1",
		"0ebc5d3437fbe2db158b9f126a1d118e308181031d0a949f8dededebc558ef6a",
		"d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7")
	grown, err := tlog.ProveTree(7, 3, l)
	if err != nil {
		t.Fatal(err)
	}
	same(t, "from 3 to 7", grown, "0298d122906dcfc10892cb53a73992fc5b9f493ea4c9badb27b791b4127a7fe7",
		"07506a85fd9dd2f120eb694f86011e5bb4662e5c415a62917033d4a9624487e7",
		"fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
		"837dbb152e9b079010717e84e865da4ebc0fa198a806d59d31bf15accef22d0e")
}

// A tree without prefixes over the SHA-256 of the bytes 1 to 5 has the root f22f4501…
// (Zenroom, test/vectors/check_merkle_tree.lua). Ours must not: without prefixes a node
// could be passed off as a leaf.
func TestATreeOfAnotherKindHasAnotherRoot(t *testing.T) {
	t.Parallel()
	var hashes, bytes ledger.Tree
	for i := range byte(5) {
		inner := sha256.Sum256([]byte{i + 1})
		_, err1 := hashes.Add(tlog.RecordHash(inner[:]))
		_, err2 := bytes.Add(inner) // as if the five were the hashes of leaves
		if err := errors.Join(err1, err2); err != nil {
			t.Fatal(err)
		}
	}
	for _, tree := range []*ledger.Tree{&hashes, &bytes} {
		root, err := tree.Root()
		if err != nil {
			t.Fatal(err)
		}
		if hex.EncodeToString(root[:]) == "f22f4501ffd3bdffcecc9e4cd6828a4479aeedd6aa484eb7c1f808ccf71c6e76" {
			t.Error("got the root of a tree without prefixes")
		}
	}
}

// A tree that goes on from its edge keeps the same as one that was never put down.
func TestATreeGoesOnFromItsEdge(t *testing.T) {
	t.Parallel()
	l := &log{}
	for i := range int64(300) {
		edge, err := l.ReadHashes(ledger.Edge(i))
		if err != nil {
			t.Fatal(err)
		}
		again, err := ledger.TreeOf(i, edge)
		if err != nil {
			t.Fatal(err)
		}
		leaf := tlog.RecordHash([]byte{byte(i), byte(i >> 8)})
		l.add(t, leaf)
		kept, err := again.Add(leaf)
		if err != nil || string(kept) != string(l.kept[i]) {
			t.Fatalf("leaf %d: got %x, %v; want %x", i, kept, err, l.kept[i])
		}
		got, err := again.Root()
		if want := l.root(t, i+1); err != nil || got != want {
			t.Fatalf("leaf %d: got the root %v, %v; want %v", i, got, err, want)
		}
	}
	if _, err := ledger.TreeOf(3, nil); err == nil {
		t.Error("got a tree without its edge, want an error")
	}
}

// Every proof verifies, by tlog and by the text of RFC 9162, and one that was altered in
// any part does not.
func TestEveryProofVerifiesAndNoAlteredOne(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		size := rapid.Int64Range(1, 200).Draw(t, "size")
		l := &log{}
		var leaves []tlog.Hash
		for i := range size {
			leaves = append(leaves, tlog.RecordHash([]byte{byte(i), byte(i >> 8)}))
			l.add(t, leaves[i])
		}
		at := rapid.Int64Range(0, size-1).Draw(t, "leaf")
		proof, err := tlog.ProveRecord(size, at, l)
		if err != nil {
			t.Fatal(err)
		}
		root := l.root(t, size)
		inclusion(t, proof, size, at, leaves[at], root, true)
		old := at + 1
		grown, err := tlog.ProveTree(size, old, l)
		if err != nil {
			t.Fatal(err)
		}
		consistency(t, grown, old, size, l.root(t, old), root, true)

		bit := rapid.IntRange(0, 255).Draw(t, "bit")
		flip := func(h tlog.Hash) tlog.Hash { h[bit/8] ^= 1 << (bit % 8); return h }
		inclusion(t, proof, size, at, flip(leaves[at]), root, false)
		inclusion(t, proof, size, at, leaves[at], flip(root), false)
		inclusion(t, append(proof[:len(proof):len(proof)], root), size, at, leaves[at], root, false)
		for i := range proof {
			altered := append(tlog.RecordProof(nil), proof...)
			altered[i] = flip(altered[i])
			inclusion(t, altered, size, at, leaves[at], root, false)
		}
		consistency(t, grown, old, size, flip(l.root(t, old)), root, false)
		consistency(t, grown, old, size, l.root(t, old), flip(root), false)
		for i := range grown {
			altered := append(tlog.TreeProof(nil), grown...)
			altered[i] = flip(altered[i])
			consistency(t, altered, old, size, l.root(t, old), root, false)
		}
	})
}

func inclusion(t *rapid.T, p tlog.RecordProof, size, at int64, leaf, root tlog.Hash, want bool) {
	if got := tlog.CheckRecord(p, size, root, at, leaf) == nil; got != want {
		t.Fatalf("leaf %d of %d: tlog says %v, want %v", at, size, got, want)
	}
	if got := included(p, size, at, leaf, root); got != want {
		t.Fatalf("leaf %d of %d: RFC 9162 says %v, want %v", at, size, got, want)
	}
}

func consistency(t *rapid.T, p tlog.TreeProof, old, size int64, was, root tlog.Hash, want bool) {
	if got := tlog.CheckTree(p, size, root, old, was) == nil; got != want {
		t.Fatalf("from %d to %d: tlog says %v, want %v", old, size, got, want)
	}
	if got := consistent(p, old, size, was, root); got != want {
		t.Fatalf("from %d to %d: RFC 9162 says %v, want %v", old, size, got, want)
	}
}

func node(left, right tlog.Hash) tlog.Hash {
	return sha256.Sum256(append(append([]byte{1}, left[:]...), right[:]...))
}

// included is the algorithm of RFC 9162, section 2.1.3.2.
func included(proof []tlog.Hash, size, at int64, leaf, root tlog.Hash) bool {
	fn, sn, r := at, size-1, leaf
	for _, p := range proof {
		if sn == 0 {
			return false
		}
		if fn&1 == 1 || fn == sn {
			r = node(p, r)
			for fn&1 == 0 && fn != 0 {
				fn, sn = fn>>1, sn>>1
			}
		} else {
			r = node(r, p)
		}
		fn, sn = fn>>1, sn>>1
	}
	return sn == 0 && r == root
}

// consistent is the algorithm of RFC 9162, section 2.1.4.2.
func consistent(proof []tlog.Hash, old, size int64, was, root tlog.Hash) bool {
	if old == size {
		return len(proof) == 0 && was == root
	}
	if old&(old-1) == 0 {
		proof = append([]tlog.Hash{was}, proof...)
	}
	if len(proof) == 0 {
		return false
	}
	fn, sn := old-1, size-1
	for fn&1 == 1 {
		fn, sn = fn>>1, sn>>1
	}
	fr, sr := proof[0], proof[0]
	for _, c := range proof[1:] {
		if sn == 0 {
			return false
		}
		if fn&1 == 1 || fn == sn {
			fr, sr = node(c, fr), node(c, sr)
			for fn&1 == 0 && fn != 0 {
				fn, sn = fn>>1, sn>>1
			}
		} else {
			sr = node(sr, c)
		}
		fn, sn = fn>>1, sn>>1
	}
	return fr == was && sr == root && sn == 0
}
