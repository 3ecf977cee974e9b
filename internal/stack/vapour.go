package stack

import "meniscus/internal/material"

// InRoom is what would hang in the air of a closed room if a liquid evaporated
// all at once and mixed evenly.
type InRoom struct {
	MgPerM3 float64
	PPM     *float64
	// Explosive is the share of the lower explosive limit, in %, nil where the limit
	// is not known.
	Explosive *float64
	// Saturated says that the air cannot hold so much: the figures are those of
	// saturated air.
	Saturated bool
}

// molarVolume20 is litres of gas in a mole at 20 °C and 101.325 kPa: R·T/p.
const molarVolume20 = 24.055

// EvaporatedInRoom is the well-mixed room without exchange of air:
//
//	C = 1000·m / V,  x = C · 24.055 / M,  share = x / (10⁴ · LEL) · 100
//
// m grams that evaporate, V the room in m³, C in mg/m³, x in ppm, M g/mol, LEL
// the lower explosive limit in % by volume, 24.055 L/mol at 20 °C and 1 atm. x
// is capped at saturation at 20 °C where that is known. It says nothing of the
// air at the bench, which holds more. Source: one-box model of industrial
// hygiene, Q = 0 (recalled). ok is false for amounts that are not above zero.
func EvaporatedInRoom(k Knowledge, solvent string, grams, cubicMetres float64) (InRoom, bool) {
	if !(grams > 0) || !(cubicMetres > 0) || k == nil {
		return InRoom{}, false
	}
	out := InRoom{MgPerM3: 1000 * grams / cubicMetres}
	molar, ok := figure(k, solvent, material.MolarMass)
	if !ok {
		return out, true
	}
	ppm := out.MgPerM3 * molarVolume20 / molar
	if most, ok := figure(k, solvent, material.SaturatedVapour); ok && ppm > most {
		ppm, out.Saturated = most, true
		out.MgPerM3 = ppm * molar / molarVolume20
	}
	out.PPM = &ppm
	if limit, ok := figure(k, solvent, material.LowerExplosiveLimit); ok && limit > 0 {
		share := ppm / (limit * 1e4) * 100
		out.Explosive = &share
	}
	return out, true
}

func figure(k Knowledge, id string, p material.Property) (float64, bool) {
	f := k.Property(id, p, "")
	if f.Preferred == nil {
		return 0, false
	}
	return f.Preferred.Value.Mid()
}
