package calculation

import (
	"strconv"
	"strings"

	"meniscus/api"
	"meniscus/internal/quantity"
	"meniscus/internal/solution"
	"meniscus/internal/statement"
	"meniscus/internal/substance"
)

// reader reads a request. The faults of the values that it reads and of the substances
// that it looks up stand in one list, in the order of reading.
type reader struct {
	substance.Lookup
	// brief tells that what only an answer in full tells is not asked.
	brief bool
	// cited are the sources of the classes of instruments that were named.
	cited []solution.Source
	// averaged says what readings came to.
	averaged []solution.Warning
}

func (r *reader) quantity(at string, q *api.Quantity) quantity.Quantity {
	out := statement.Quantity(at, q, &r.Faults)
	r.cite(out.Uncertainty)
	return out
}

func (r *reader) uncertainty(at string, u *api.Uncertainty) quantity.Uncertainty {
	out := statement.Uncertainty(at, u, &r.Faults)
	r.cite(out)
	return out
}

// cite notes the source of a class of instrument.
func (r *reader) cite(u quantity.Uncertainty) {
	if class, said := u.Class(); said {
		r.cited = append(r.cited, solution.Cited(class.Source()))
	}
}

func (r *reader) strength(at string, s *api.AskedStrength) solution.Strength {
	return statement.Asked(at, s, &r.Faults)
}

// component looks a substance up; what the caller says of it replaces what is known.
func (r *reader) component(at string, s api.Substance, phase solution.Phase) solution.Component {
	return r.look(at, s, phase, false)
}

// look looks up a substance, or a dispersion that is described as one.
func (r *reader) look(at string, s api.Substance, phase solution.Phase, dispersed bool) solution.Component {
	said := substance.Said{
		Material: deref(s.Material), Grade: deref(s.Grade), Name: deref(s.Name), Dense: s.Density != nil,
		Dispersed: dispersed,
	}
	if s.Phase != nil {
		said.Phase = solution.Phase(*s.Phase)
	}
	c, found := r.Find(at, said, phase)
	if found && s.Density != nil {
		c = r.WithDensity(at+"/density", c, r.quantity(at+"/density", s.Density), substance.InRequest)
	}
	if found && s.Alcohol != nil {
		c = r.WithAlcohol(at+"/alcohol", c, statement.Alcohol(at+"/alcohol", s.Alcohol, &r.Faults))
	}
	return c
}

// amount reads how much is wanted.
func (r *reader) amount(at string, w api.AskedAmount) solution.Wanted {
	out := solution.Wanted{
		Finished: r.quantity(at+"/finished", w.Finished),
		Solvent:  r.quantity(at+"/solvent", w.Solvent),
		OnHand:   r.quantity(at+"/onHand", w.OnHand),
	}
	if b := w.Bottles; b != nil {
		out.Bottles = &solution.Bottles{
			Count: int(b.Count), Size: r.quantity(at+"/bottles/size", &b.Size),
			Loss: r.quantity(at+"/bottles/loss", b.Loss),
		}
	}
	return out
}

func (r *reader) vessel(at string, c *api.AskedContainer) *solution.Container {
	if c == nil {
		return nil
	}
	return &solution.Container{
		Capacity: r.quantity(at+"/capacity", &c.Capacity), Headspace: r.quantity(at+"/headspace", c.Headspace),
	}
}

func (r *reader) instruments(at string, i *api.AskedInstruments) solution.Instruments {
	if i == nil {
		return solution.Instruments{}
	}
	return solution.Instruments{
		Scale: r.instrument(at+"/scale", i.Scale), Measure: r.instrument(at+"/measure", i.Measure),
	}
}

func (r *reader) instrument(at string, i *api.AskedInstrument) solution.Instrument {
	if i == nil {
		return solution.Instrument{}
	}
	return solution.Instrument{
		Readability: r.quantity(at+"/readability", i.Readability),
		Uncertainty: r.uncertainty(at+"/uncertainty", i.Uncertainty),
	}
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

// deref is the value behind a pointer, or the zero value.
func deref[T any](p *T) (v T) {
	if p != nil {
		v = *p
	}
	return v
}
