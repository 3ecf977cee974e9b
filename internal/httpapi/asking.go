package httpapi

import (
	"strconv"
	"strings"

	"meniscus/api"
	"meniscus/internal/solution"
	"meniscus/internal/values"
)

// asking reads the request of a computation into what the core takes.
type asking struct{ values.Reader }

// amount reads how much is wanted.
func (a *asking) amount(at string, w api.AskedAmount) solution.Wanted {
	out := solution.Wanted{
		Finished: a.Quantity(at+"/finished", w.Finished),
		Solvent:  a.Quantity(at+"/solvent", w.Solvent),
		OnHand:   a.Quantity(at+"/onHand", w.OnHand),
	}
	if b := w.Bottles; b != nil {
		out.Bottles = &solution.Bottles{Count: int(b.Count), Size: a.Quantity(at+"/bottles/size", &b.Size), Loss: a.Quantity(at+"/bottles/loss", b.Loss)}
	}
	return out
}

func (a *asking) container(at string, c *api.AskedContainer) *solution.Container {
	if c == nil {
		return nil
	}
	return &solution.Container{Capacity: a.Quantity(at+"/capacity", &c.Capacity), Headspace: a.Quantity(at+"/headspace", c.Headspace)}
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
	return solution.Instrument{Readability: a.Quantity(at+"/readability", i.Readability), Uncertainty: a.Uncertainty(at+"/uncertainty", i.Uncertainty)}
}

// asked reads the body of a computation and the knowledge that it may use.
func asked[T any](s *Server, c *call) (*asking, T, error) {
	request, err := decode[T](c)
	if err != nil {
		return nil, request, err
	}
	base, err := s.knowledge(c)
	return &asking{values.Reader{Base: base}}, request, err
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
