package recording

import (
	"context"
	"fmt"
	"slices"

	"github.com/google/uuid"

	"meniscus/internal/fault"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
)

// checkOrigin refuses a specimen that would come from itself, and a part with areas
// that its parent does not have.
func checkOrigin(ctx context.Context, store postgres.Tenant, self uuid.UUID, specimen *record.Specimen) error {
	parent := specimen.Parent()
	if parent == uuid.Nil {
		return nil
	}
	pointer := "/sampleOf/specimen/id"
	if specimen.Part != nil {
		pointer = "/partOf/specimen/id"
	}
	origins, err := store.OriginsOf(ctx, parent)
	if err != nil {
		return err
	}
	if parent == self || slices.ContainsFunc(origins, func(o postgres.Standing) bool { return o.ID == self }) {
		return fault.New("origin-circle", pointer,
			"The specimen would come from itself; name the one that it was taken from.")
	}
	if specimen.Part != nil && len(origins) > 0 {
		if err := areasGone(specimen.Part.Areas.Value, origins[0]); err != nil {
			return err
		}
	}
	if len(origins) > postgres.MostGenerations {
		return fault.New("origin-too-long", pointer,
			"The specimen would come from others over more than %d steps, and no more are read; "+
				"name one that is nearer to the first.", postgres.MostGenerations)
	}
	return nil
}

// areasGone refuses areas that a parent does not have, if the parent's areas are known.
func areasGone(areas []string, parent postgres.Standing) error {
	if len(parent.PartAreas) == 0 {
		return nil
	}
	var faults fault.List
	for i, path := range areas {
		if !slices.Contains(record.AreasWithin([]string{path}, parent.PartAreas), path) {
			faults.Add("area-not-of-parent", fmt.Sprintf("/partOf/areas/paths/%d", i),
				"The specimen that it came from is a part itself and does not have this area.")
		}
	}
	return faults.Err()
}
