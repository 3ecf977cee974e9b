package httpapi

import (
	"meniscus/api"
	"meniscus/internal/fault"
	"meniscus/internal/material"
)

const containerCaution = "Charts speak of pure solvents at about 20 °C. " +
	"Try a small amount first, and look at the closure and its liner too."

// listContainers tells which solvent may stand in which container.
func listContainers(s *Server, c *requestContext) (*answer, error) {
	b, err := s.knowledge(c)
	if err != nil {
		return nil, err
	}
	container, solvent := c.text("container"), c.text("solvent")
	if _, known := b.Container(container); container != "" && !known {
		return nil, unknownFilter("container",
			"No material of containers has this id; leave the parameter out to see them all.")
	}
	if _, known := b.Material(solvent); solvent != "" && !known {
		return nil, unknownFilter("solvent", "No material has this id; /v1/materials?kind=solvent lists the solvents.")
	}
	list := api.ContainerList{
		Containers: []api.ContainerMaterial{}, Codes: []api.ResinCode{}, Ratings: ratingsOf(b, container, solvent),
		Cautions: []string{containerCaution, material.SheetFirst},
	}
	for _, x := range b.Containers() {
		if container == "" || container == x.ID {
			list.Containers = append(list.Containers, api.ContainerMaterial{
				Id: x.ID, Name: x.Name, Code: said(x.Code), Note: said(x.Note),
			})
		}
	}
	for _, x := range b.ResinCodes() {
		if container == "" || container == x.Container {
			list.Codes = append(list.Codes, api.ResinCode{
				Code: x.Code, Letters: x.Letters, Container: said(x.Container), Note: said(x.Note),
				Source: attribution(x.Evidence),
			})
		}
	}
	a, err := ok(list)
	return c.shared(a, err)
}

func unknownFilter(name, detail string) error {
	return &fault.Fault{Kind: fault.Malformed, Code: "parameter-invalid", Parameter: name, Detail: detail}
}

// ratingsOf lists the ratings of a solvent in a container. An empty name stands for all
// of them, and pairs without a rating are then left out. A pair that was asked for by
// both names is always answered.
func ratingsOf(b *material.Base, container, solvent string) []api.ContainerRating {
	ratings := []api.ContainerRating{}
	for _, x := range b.Containers() {
		if container != "" && container != x.ID {
			continue
		}
		for _, m := range solventsOr(b, solvent) {
			v := b.ContainerRating(x.ID, m)
			if v.Rating == material.UnknownRating && (container == "" || solvent == "") {
				continue
			}
			ratings = append(ratings, containerRating(x.ID, m, v))
		}
	}
	return ratings
}

func solventsOr(b *material.Base, solvent string) []string {
	if solvent != "" {
		return []string{solvent}
	}
	solvents := b.Materials(material.Filter{Kinds: []material.Kind{material.Solvent, material.SolventMixture}})
	return each(solvents, func(m material.Material) string { return m.ID })
}

func containerRating(container, solvent string, v material.ContainerVerdict) api.ContainerRating {
	out := api.ContainerRating{
		Container: container, Solvent: solvent, Rating: api.ContainerVerdict(v.Rating), Of: said(v.Of),
		Readings: each(append(v.Rows, v.Others...), containerReading),
	}
	if v.Basis != material.NoBasis {
		basis := api.ContainerRatingBasis(v.Basis)
		out.Basis = &basis
	}
	return out
}

func containerReading(r material.RatingRow) api.ContainerReading {
	return api.ContainerReading{
		Rating: api.ContainerVerdict(r.Rating), Reading: api.ContainerReadingReading(r.Reading),
		Printed: said(r.Printed),
		Remark:  said(r.Remark), Source: attribution(r.Evidence),
	}
}
