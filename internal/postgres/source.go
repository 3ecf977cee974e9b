package postgres

import (
	"context"

	"meniscus/internal/fault"
	"meniscus/internal/record"
)

// SourceKey identifies a record of one kind in a source system.
type SourceKey struct {
	Kind record.Kind
	record.Source
}

// SourceStanding is the state of a record that came from a source system, and what that
// system said last.
type SourceStanding struct {
	Row // the newest revision, without its words
	// InForce is the last revision that states, amends or retracts; its words may have
	// been redacted (Gone).
	InForce int  `db:"in_force"`
	Gone    bool `db:"gone"`
	// First is the first revision that has the source: the first of all, or the one that
	// adopted the record. Size and FirstSize are how many bytes of words InForce and
	// First have.
	First     int `db:"first"`
	Size      int `db:"size"`
	FirstSize int `db:"first_size"`
	// Said is the last revision that the source stated, with the digest of the statement
	// as it was sent. Where no digest was stored, as for cards and for records of
	// earlier versions of this program, it is First, and the digest is "".
	Said       int    `db:"said"`
	SaidDigest string `db:"said_digest"`
}

// SourceStanding gives the state of a source's record, or a fault of kind NotFound.
func (s Tenant) SourceStanding(ctx context.Context, key SourceKey) (SourceStanding, error) {
	found, err := s.SourceStandings(ctx, []SourceKey{key})
	if err != nil {
		return SourceStanding{}, err
	}
	standing, here := found[key]
	if !here {
		return standing, fault.Of(fault.NotFound, "source-record-unknown",
			"No record of this kind came from this system under this id.")
	}
	return standing, nil
}

// SourceStandings gives the states of sources' records; those that are not here are
// left out.
func (s Tenant) SourceStandings(ctx context.Context, keys []SourceKey) (map[SourceKey]SourceStanding, error) {
	var kinds, systems, ids []string
	for _, k := range keys {
		kinds, systems, ids = append(kinds, string(k.Kind)), append(systems, k.System), append(ids, k.RecordID)
	}
	rows, err := collectPlannedAnew[SourceStanding](ctx, s, `
		select e.id, e.kind, e.record_id, e.revision, e.act, e.request_id, e.recorded_at, e.recorded_by,
		       k.system as source_system, k.id as source_id, e.digest, null::text as body, null::bigint as seq,
		       f.revision as in_force, f.gone, f.size, first.revision as first, first.size as first_size,
		       coalesce(said.revision, first.revision) as said, coalesce(said.digest, '') as said_digest
		  from unnest($2::text[], $3::text[], $4::text[]) as k(kind, system, id)
		  join source_record r on r.institution_id = $1 and r.source_system = k.system and r.source_id = k.id
		   and r.kind = k.kind
		 cross join lateral (`+firstOfSource("revision, coalesce(octet_length(body), 0) as size")+`) first
		 cross join lateral (
			select * from entry where institution_id = $1 and record_id = r.record_id order by revision desc limit 1) e
		 cross join lateral (
			select revision, body is null as gone, coalesce(octet_length(body), 0) as size from entry
			 where institution_id = $1 and record_id = r.record_id and act <> 'redacted' order by revision desc limit 1) f
		  left join lateral (
			select revision, substr(body, 18, 64) as digest from entry
			 where institution_id = $1 and record_id = r.record_id and body ^@ '{"sourceDigest":'
			 order by revision desc limit 1) said on true`, s.institution, kinds, systems, ids)
	found := make(map[SourceKey]SourceStanding, len(rows))
	for _, row := range rows {
		found[SourceKey{row.Kind, record.Source{System: *row.System, RecordID: *row.SystemID}}] = row
	}
	return found, err
}

// firstOfSource selects columns of the first entry that has a source of the record r.
func firstOfSource(columns string) string {
	return `select ` + columns + ` from entry
		where institution_id = $1 and record_id = r.record_id and source_id is not null order by revision limit 1`
}
