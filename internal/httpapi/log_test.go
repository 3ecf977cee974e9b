package httpapi_test

import (
	"bytes"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"net/http"
	"strings"
	"testing"

	"golang.org/x/mod/sumdb/tlog"

	"meniscus/internal/ledger"
	"meniscus/internal/pgtest"
)

// logKeys sign the logs of tests.
var logKeys = func() ledger.Signers {
	s, err := ledger.ParseSigners("AAECAwQFBgcICQoLDA0ODxAREhMUFRYXGBkaGxwdHh8=")
	if err != nil {
		panic(err)
	}
	return s
}()

// keys are the verifiers that the service lists.
func (s *service) logKeys() (verifiers []string) {
	s.t.Helper()
	var list struct {
		Items []struct {
			Verifier string
			Signs    bool
		}
	}
	r := s.do(http.MethodGet, "/v1/log/keys", nil).want(200)
	if err := json.Unmarshal(r.body, &list); err != nil {
		s.t.Fatal(err)
	}
	for _, key := range list.Items {
		if !key.Signs {
			s.t.Errorf("got a key that does not sign: %v", key)
		}
		verifiers = append(verifiers, key.Verifier)
	}
	return verifiers
}

// checkpoint is the head of the log, its signature checked.
func (s *service) checkpoint() ledger.Checkpoint {
	s.t.Helper()
	r := s.do(http.MethodGet, "/v1/log/checkpoint", nil).want(200)
	head, err := ledger.ReadCheckpoint(r.body, s.logKeys())
	if err != nil {
		s.t.Fatalf("%v: %s", err, r.body)
	}
	return head
}

type logProof struct {
	Size   int64
	Leaf   string
	Hashes []string
}

func (s *service) proof(query string, args ...any) (logProof, []tlog.Hash) {
	s.t.Helper()
	var p logProof
	r := s.do(http.MethodGet, "/v1/log/proofs?"+fmt.Sprintf(query, args...), nil).want(200)
	if err := json.Unmarshal(r.body, &p); err != nil {
		s.t.Fatal(err)
	}
	var hashes []tlog.Hash
	for _, text := range p.Hashes {
		b, err := hex.DecodeString(text)
		if err != nil {
			s.t.Fatal(err)
		}
		hashes = append(hashes, tlog.Hash(b))
	}
	return p, hashes
}

// TestTheLogProvesEveryEntry: each entry is proved in each later size, each size grows into each
// later one, the leaves are those of the export, and a redaction leaves all of it as it was.
func TestTheLogProvesEveryEntry(t *testing.T) {
	t.Parallel()
	s := newService(t)
	s.seal()
	old := s.checkpoint()
	bear := s.create("/v1/specimens", specimen("LV.1987/0042")).id()
	secret := s.create("/v1/treatments", treatment(bear, "cleaning", "2024")).id()
	s.seal()
	before := s.checkpoint()
	said, _ := s.proof("sequence=%d", before.Size)
	s.do("POST", "/v1/records/"+secret+"/redaction", object{"reason": "Asked for."}, anyTag).want(201)
	s.seal()
	head := s.checkpoint()
	if old.Size >= before.Size || before.Size >= head.Size || head.Origin != ledger.Origin(s.inst) {
		t.Fatalf("got %v, %v and %v, want a log that grows", old, before, head)
	}
	if again, _ := s.proof("sequence=%d&size=%d", before.Size, before.Size); again.Leaf != said.Leaf {
		t.Errorf("got the leaf %s after its words were taken, want %s", again.Leaf, said.Leaf)
	}
	lines := bytes.Split(s.lines(), []byte("\n"))
	roots := map[int64]tlog.Hash{old.Size: old.Root, before.Size: before.Root, head.Size: head.Root}
	for size, root := range roots {
		for sequence := int64(1); sequence <= size; sequence++ {
			p, hashes := s.proof("sequence=%d&size=%d", sequence, size)
			leaf := tlog.RecordHash([]byte(p.Leaf))
			if err := tlog.CheckRecord(hashes, size, root, sequence-1, leaf); err != nil || p.Size != size {
				t.Errorf("entry %d of %d: %v", sequence, size, err)
			}
			exported, _, _ := bytes.Cut(lines[sequence-1], []byte(`,"nonce"`))
			want := fmt.Sprintf(`%s,"leaf":"%x"`, strings.TrimSuffix(p.Leaf, "}"), leaf[:])
			if !strings.HasPrefix(string(exported), want) {
				t.Errorf("got the line %s, want %s", exported, want)
			}
		}
		for from, was := range roots {
			if from > size {
				continue
			}
			p, hashes := s.proof("from=%d&size=%d", from, size)
			if err := tlog.CheckTree(hashes, size, root, from, was); err != nil || p.Leaf != "" {
				t.Errorf("from %d to %d: %v, %s", from, size, err, p.Leaf)
			}
		}
	}
	for _, query := range []string{"", "sequence=1&from=1", "sequence=99999", "from=99999", "sequence=1&size=99999",
		"sequence=3&size=2", "from=3&size=2"} {
		s.do(http.MethodGet, "/v1/log/proofs?"+query, nil).want(400)
	}
	_, err := pgtest.Pool(t, s.db.Super()).Exec(t.Context(), `with unwatched as (
			select set_config('session_replication_role', 'replica', true) as role)
		delete from sequenced using unwatched where institution_id = $1 and seq = 3 and role = 'replica'`, s.inst)
	if err != nil {
		t.Fatal(err)
	}
	gone := s.do(http.MethodGet, "/v1/log/proofs?sequence=3", nil).want(400)
	if !strings.Contains(string(gone.body), "was taken away since it was logged") {
		t.Errorf("got %s of an entry that was taken away", gone.body)
	}
	other := s.another("Museum on the Hill")
	other.seal()
	if head := other.checkpoint(); head.Origin == old.Origin {
		t.Errorf("got %v for another institution", head)
	}
}
