package solution

import (
	"meniscus/internal/fault"
	"meniscus/internal/quantity"
)

// Fit is how an amount fits its container.
type Fit struct {
	Finished float64 // mL
	Capacity float64 // mL
	Usable   float64 // mL below the headspace
	Fills    float64 // per cent of the capacity
	Sentence string
	Fits     bool
}

// room is a container as the arithmetic uses it.
type room struct {
	given            bool
	capacity, usable float64 // mL
}

// headspaceSpan is what the headspace may be, %.
var headspaceSpan = span{0, 90, false}

func (c *checker) room(pointer string, v *Container) room {
	if v == nil {
		return room{}
	}
	capacity := c.need(pointer+"/capacity", v.Capacity, quantity.Millilitre, volumeSpan).Value
	headspace := c.maybe(pointer+"/headspace", v.Headspace, quantity.Percent, headspaceSpan, 0).Value
	return room{true, capacity, capacity * (1 - headspace/100)}
}

// refuse refuses a finished volume that was asked for and does not fit the
// container. A volume that only follows from other inputs is answered, with a
// warning that it overflows.
func (r room) refuse(w wish, finished float64) error {
	if !r.given || w.kind != finishedVolume || finished <= r.capacity*(1+1e-9) {
		return nil
	}
	return fault.New("container-too-small", "/container/capacity",
		"%s do not fit into %s; ask for at most %s, or take a larger container.",
		amountText(finished, quantity.Millilitre), amountText(r.capacity, quantity.Millilitre),
		amountText(r.usable, quantity.Millilitre))
}

// fit tells how a volume fits.
func (r room) fit(finished float64) *Fit {
	if !r.given {
		return nil
	}
	f := Fit{Finished: finished, Capacity: r.capacity, Usable: r.usable, Fills: 100 * finished / r.capacity,
		Fits: finished <= r.usable*(1+1e-9)}
	switch {
	case f.Fits:
		f.Sentence = "It fills " + number(f.Fills) + " % of the container."
	case finished > r.capacity:
		f.Sentence = "It comes to " + amountText(finished, quantity.Millilitre) + " and overflows a container of " +
			amountText(r.capacity, quantity.Millilitre) + "."
	default:
		f.Sentence = "It comes to " + amountText(finished, quantity.Millilitre) +
			" and leaves less than the headspace that was asked for."
	}
	return &f
}

// warnFit adds the warning for what does not fit.
func (a *Advice) warnFit(f *Fit) {
	switch {
	case f == nil || f.Fits:
	case f.Finished > f.Capacity:
		a.warn("container-overflows", Block, additiveSource, f.Sentence)
	default:
		a.warn("headspace-too-small", Warn, practice, f.Sentence)
	}
}

// fills tells how a volume fits the vessel that was named, or that it is not known: of a volume that is not, what is known of it
// alone may be too much.
func (a *MakeUpAnswer) fills(r room, millilitres float64, known bool) {
	switch {
	case !r.given:
	case known || millilitres > r.capacity:
		a.Fit = r.fit(millilitres)
		a.warnFit(a.Fit)
	default:
		a.warn("fit-not-known", Warn, practice, "Whether it fits the vessel is not known, as its volume is not: pour it where "+
			"there is room to spare.")
	}
}
