package postgres

import "context"

// ownMaterials digests which revisions of an institution's own materials are in force. The
// transaction that wrote a row tells apart two revisions of the same number, of which one was
// lost with the server that it was written to. It reads one small table.
const ownMaterials = `
	(select sha256(convert_to(coalesce(string_agg(concat_ws(' ', id, revision, xmin), ',' order by id), ''), 'UTF8'))
	   from material where institution_id = $1 and not retracted)`

// VersionOfMaterials is another whenever another revision of one of the institution's own
// materials is in force.
func (s Tenant) VersionOfMaterials(ctx context.Context) ([]byte, error) {
	type one struct{ Version []byte }
	rows, err := collect[one](ctx, s, `select `+ownMaterials+` as version`, s.institution)
	if err != nil {
		return nil, err
	}
	return rows[0].Version, nil
}

// RelyOnMaterials makes it a premise that the institution's own materials have a version; false
// if that has to be asked (Relying).
func (s Tenant) RelyOnMaterials(ctx context.Context, version []byte) bool {
	return premisesOf(ctx).rely(s.institution, holding(ownMaterials+` = $2`, s.institution, version))
}
