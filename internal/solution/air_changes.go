package solution

import (
	"fmt"
	"math"

	"meniscus/internal/quantity"
)

// AirChanges asks how often the air of a room is changed, from two readings of anything in it whose source has ended.
type AirChanges struct {
	First, Second quantity.Quantity // concentrations, both in parts of air or both as a mass in it
	Between       quantity.Quantity // time
	Incoming      quantity.Quantity // concentration in the air that comes in; none is 0
	Volume        quantity.Quantity // of the room, for the flow; may be left out
}

// AirChangesAnswer is what the readings come to.
type AirChangesAnswer struct {
	Changes quantity.Outcome  // 1/h
	Flow    *quantity.Outcome // m³/h
	Advice
}

// ComputeAirChanges gives the air changes, and the flow in a room of a known volume:
//
//	k = ln((C₁ − c₀)/(C₂ − c₀))/Δt,  Q = k V
//
// Source: decay without a source, well-mixed room (read; box.go). It is the air that takes part in the mixing.
func ComputeAirChanges(q AirChanges) (AirChangesAnswer, error) {
	const first, second, between, incoming, volume = 0, 1, 2, 3, 4
	var c checker
	inputs := make([]quantity.Input, 5)
	read := func(i int, at, name string, x quantity.Quantity) {
		unit := quantity.PPM
		if q.First.Unit.Kind() == quantity.MassPerVolume {
			unit = quantity.MgPerM3
		}
		inputs[i] = quantity.Input{Name: name, Unit: unit}
		if i != incoming || !x.IsZero() {
			inputs[i].Measured = c.need(at, x, unit, span{0, 1e7, i != incoming})
		}
	}
	read(first, "/first", "the first reading", q.First)
	read(second, "/second", "the second reading", q.Second)
	read(incoming, "/incoming", "the incoming air", q.Incoming)
	inputs[between] = quantity.Input{Name: "the time between", Unit: quantity.Hour,
		Measured: c.need("/between", q.Between, quantity.Hour, span{0, week, true})}
	inputs[volume] = quantity.Input{Name: "the volume of the room", Unit: "m3", Measured: quantity.Exactly(1)}
	if !q.Volume.IsZero() {
		inputs[volume].Measured = c.need("/volume", q.Volume, "m3", span{0.1, 1e6, false})
	}
	if x := values(inputs); len(c.faults) == 0 && !(x[first] > x[second] && x[second] > x[incoming]) {
		c.faults.Add("not-falling", "/second", "The second reading must be below the first, and above the incoming "+
			"air: what is measured has to be on its way down to what comes in.")
	}
	if err := c.faults.Err(); err != nil {
		return AirChangesAnswer{}, err
	}
	both := quantity.PropagateAll(inputs, 2, func(x, out []float64) {
		out[0] = math.Log((x[first]-x[incoming])/(x[second]-x[incoming])) / x[between]
		out[1] = out[0] * x[volume]
	})
	a := AirChangesAnswer{Changes: both[0]}
	if !both[0].Finite() {
		return AirChangesAnswer{}, noFiniteAnswer()
	}
	exact := inputs[first].Standard == 0 && inputs[second].Standard == 0
	write := func(o quantity.Outcome) string {
		if exact {
			return about(o.Value) // how far to trust the meter is not known
		}
		return o.Said()
	}
	said := ""
	if !q.Volume.IsZero() {
		a.Flow = &both[1]
		said = fmt.Sprintf(", %s m³ an hour", write(both[1]))
	}
	a.Answer = fmt.Sprintf("The air is changed %s times an hour%s. That is the air which takes part in the mixing: use it "+
		"with a mixing factor of 1.", write(both[0]), said)
	a.cite(oneBoxSource)
	a.Steps = []string{
		"Read when the source has ended, with doors, windows and fans as they are during the work.",
		"Read again at other places and on another day: where the air is not mixed, and with the wind outside, it differs.",
	}
	if exact {
		a.warn("readings-exact", Info, oneBoxSource, "No uncertainty of the readings was given, so none is stated; "+
			"where the two are near each other, a small error of the meter is a large one here.")
	}
	return a, nil
}
