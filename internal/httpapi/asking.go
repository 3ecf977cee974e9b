package httpapi

import (
	"strconv"
	"strings"

	"meniscus/api"
	"meniscus/internal/quantity"
	"meniscus/internal/solution"
	"meniscus/internal/statement"
	"meniscus/internal/substance"
)

// asking reads the request of a computation into what the core takes.
type asking struct{ substance.Lookup }

func (a *asking) quantity(at string, q *api.Quantity) quantity.Quantity {
	return statement.Quantity(at, q, &a.Faults)
}

func (a *asking) uncertainty(at string, u *api.Uncertainty) quantity.Uncertainty {
	return statement.Uncertainty(at, u, &a.Faults)
}

func (a *asking) strength(at string, s *api.AskedStrength) solution.Strength {
	return statement.Strength(at, s, &a.Faults)
}

// component looks a substance up, with what the caller says of it in its place.
func (a *asking) component(at string, s api.Substance, phase solution.Phase) solution.Component {
	return a.look(at, s, phase, false)
}

// look looks up a substance, or a dispersion that is described as one.
func (a *asking) look(at string, s api.Substance, phase solution.Phase, dispersed bool) solution.Component {
	said := substance.Said{
		Material: text(s.Material), Grade: text(s.Grade), Name: text(s.Name), Dense: s.Density != nil, Dispersed: dispersed,
	}
	if s.Phase != nil {
		said.Phase = solution.Phase(*s.Phase)
	}
	c, found := a.Find(at, said, phase)
	if found && s.Density != nil {
		c = a.WithDensity(at+"/density", c, a.quantity(at+"/density", s.Density))
	}
	if found && s.Alcohol != nil {
		c = a.WithAlcohol(at+"/alcohol", c, a.quantity(at+"/alcohol", s.Alcohol))
	}
	return c
}

// amount reads how much is wanted.
func (a *asking) amount(at string, w api.AskedAmount) solution.Wanted {
	out := solution.Wanted{
		Finished: a.quantity(at+"/finished", w.Finished),
		Solvent:  a.quantity(at+"/solvent", w.Solvent),
		OnHand:   a.quantity(at+"/onHand", w.OnHand),
	}
	if b := w.Bottles; b != nil {
		out.Bottles = &solution.Bottles{Count: int(b.Count), Size: a.quantity(at+"/bottles/size", &b.Size), Loss: a.quantity(at+"/bottles/loss", b.Loss)}
	}
	return out
}

func (a *asking) container(at string, c *api.AskedContainer) *solution.Container {
	if c == nil {
		return nil
	}
	return &solution.Container{Capacity: a.quantity(at+"/capacity", &c.Capacity), Headspace: a.quantity(at+"/headspace", c.Headspace)}
}

func (a *asking) instruments(at string, i *api.AskedInstruments) solution.Instruments {
	if i == nil {
		return solution.Instruments{}
	}
	return solution.Instruments{Scale: a.instrument(at+"/scale", i.Scale), Measure: a.instrument(at+"/measure", i.Measure)}
}

func (a *asking) instrument(at string, i *api.AskedInstrument) solution.Instrument {
	if i == nil {
		return solution.Instrument{}
	}
	return solution.Instrument{Readability: a.quantity(at+"/readability", i.Readability), Uncertainty: a.uncertainty(at+"/uncertainty", i.Uncertainty)}
}

// asked reads the body of a computation and the knowledge that it may use.
func asked[T any](s *Server, c *call) (*asking, T, error) {
	request, err := decode[T](c)
	if err != nil {
		return nil, request, err
	}
	base, err := s.knowledge(c)
	return &asking{substance.Lookup{Base: base}}, request, err
}

// materialID gives the id of a material, or nil for what has none.
func materialID(id string) *string {
	if strings.ContainsAny(id, ":/@") {
		return nil
	}
	return said(id)
}

// item is the JSON Pointer to an item of a list.
func item(at string, i int) string { return at + "/" + strconv.Itoa(i) }

// text gives a text that may have been left out.
func text(s *string) string {
	if s == nil {
		return ""
	}
	return *s
}
