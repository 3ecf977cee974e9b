package solution

import (
	"meniscus/internal/fault"
	"meniscus/internal/quantity"
)

// proofCelsius is 60 °F, the temperature of both volumes of a proof.
const proofCelsius = 15.56

func isProof(u quantity.Unit) bool { return u == quantity.USProof || u == quantity.BritishProof }

// SpiritPercent gives how strong a spirit is, % by volume at 20 °C, of a share by volume; a
// proof is one at 60 °F.
func SpiritPercent(said quantity.Quantity) (float64, error) {
	percent, err := said.In(quantity.Percent)
	if err == nil && isProof(said.Unit) && percent >= 0 && percent <= 100 {
		percent = 100 * ethanolVolumeFraction(ethanolMassFraction(percent/100, proofCelsius), referenceCelsius)
	}
	return percent, err
}

// ProofReadings are what a number of a proof that is not named may stand for.
func ProofReadings(value quantity.Decimal) []Reading {
	return spiritReadings(Strength{Number: quantity.Quantity{Value: value, Unit: Proof}})
}

// spiritNeedsBasis is the fault of a strength of ethanol without a basis, with what the
// number may stand for.
func spiritNeedsBasis(s Strength, pointer string) *fault.Fault {
	readings := spiritReadings(s)
	f := fault.New("strength-basis-missing", pointer+"/basis",
		"The strength of a spirit is by mass (mass-fraction), by volume (volume-fraction) or in US proof: this number has "+
			"%d readings. Choose one of them.", len(readings))
	f.Extra = map[string]any{"readings": readings}
	return f
}

// spiritReadings are what a number without a basis may stand for.
func spiritReadings(s Strength) []Reading {
	var readings []Reading
	for _, of := range s.candidates() {
		ratio, err := of.Number.In(quantity.One)
		if err != nil || (of.Basis != MassFraction && of.Basis != VolumeFraction) {
			continue // not a share of the whole
		}
		r := Reading{Strength: of, Said: of.said()}
		if ratio > 1 || ratio < 0 {
			r.Unanswered = "There is no such share: it must be from 0 to 100 %."
		} else {
			r.MassPercent = 100 * spiritMassFraction(of, ratio)
		}
		readings = append(readings, r)
	}
	return readings
}

// spiritMassFraction is the mass fraction of ethanol in a share of it; a proof is of
// volumes at 60 °F, and a volume fraction here of volumes at 20 °C.
func spiritMassFraction(of Strength, ratio float64) float64 {
	switch {
	case of.Basis == MassFraction:
		return ratio
	case isProof(of.Number.Unit):
		return ethanolMassFraction(ratio, proofCelsius)
	}
	return ethanolMassFraction(ratio, referenceCelsius)
}
