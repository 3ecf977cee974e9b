package httpapi

import (
	"encoding/hex"
	"slices"

	"meniscus/api"
	"meniscus/internal/fault"
	"meniscus/internal/ledger"
	"meniscus/internal/postgres"
)

var notSigned = fault.Of(fault.NotFound, "log-not-signed",
	"The log is signed with a key; the operator sets MENISCUS_LOG_KEY. Proofs work without.")

// readCheckpoint signs the head of the log. Its keys are on record before they sign.
func readCheckpoint(s *Server, c *requestContext) (*answer, error) {
	if len(s.signers) == 0 {
		return nil, notSigned
	}
	head, err := c.tenant().LogHead(c.ctx())
	if err != nil {
		return nil, err
	}
	if _, _, err := s.logKeys(c); err != nil {
		return nil, err
	}
	signed, err := s.signers.Sign(head)
	if err != nil {
		return nil, err
	}
	return &answer{mediaType: "text/plain; charset=utf-8", body: signed}, nil
}

// logKeys gives the keys on record, and those that sign.
func (s *Server) logKeys(c *requestContext) (keys []postgres.LogKey, signing []string, err error) {
	if signing, err = s.signers.Verifiers(ledger.Origin(c.principal.Institution)); err == nil {
		keys, err = c.tenant().LogKeys(c.ctx(), signing)
	}
	return keys, signing, err
}

func listLogKeys(s *Server, c *requestContext) (*answer, error) {
	keys, signing, err := s.logKeys(c)
	if err != nil {
		return nil, err
	}
	list := api.LogKeyList{Items: make([]api.LogKey, 0, len(keys))}
	for _, key := range keys {
		list.Items = append(list.Items, api.LogKey{Verifier: key.Verifier, Since: key.Since.UTC(),
			Signs: slices.Contains(signing, key.Verifier)})
	}
	return ok(list)
}

// proveInLog proves that an entry is in the log, or that the log only grew.
func proveInLog(_ *Server, c *requestContext) (*answer, error) {
	sequence, from, size := int64(c.number("sequence")), int64(c.number("from")), int64(c.number("size"))
	var proof postgres.LogProof
	var err error
	switch {
	case (sequence == 0) == (from == 0):
		return nil, &fault.Fault{Kind: fault.Malformed, Code: "parameter-invalid", Parameter: "sequence",
			Detail: "Say the sequence number of an entry, or from which size the log grew; one of them."}
	case sequence > 0:
		proof, err = c.tenant().ProveEntry(c.ctx(), sequence, size)
	default:
		proof, err = c.tenant().ProveGrowth(c.ctx(), from, size)
	}
	if err != nil {
		return nil, err
	}
	made := api.LogProof{Size: proof.Size, Hashes: make([]string, 0, len(proof.Hashes))}
	for _, hash := range proof.Hashes {
		made.Hashes = append(made.Hashes, hex.EncodeToString(hash[:]))
	}
	if proof.Leaf != nil {
		leaf := string(proof.Leaf.Text())
		made.Leaf = &leaf
	}
	return ok(made)
}
