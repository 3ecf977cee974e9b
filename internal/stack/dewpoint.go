package stack

import "math"

// Constants of the Magnus form over water, for temperatures in degrees Celsius
// and −40 to 50 °C: Alduchov and Eskridge, Journal of Applied Meteorology 35,
// 1996. Recalled; the source was not seen.
const (
	magnusA = 17.625
	magnusB = 243.04 // °C
)

// DewPoint is the temperature, in °C, to which air must cool until water
// condenses:
//
//	γ  = ln(RH / 100) + a·t / (b + t)
//	Td = b·γ / (a − γ)
//
// t air temperature in °C, RH relative humidity in %, a = 17.625, b = 243.04 °C.
// It holds for t from −40 to 50 °C and RH above 0 and up to 100 %; outside, ok is
// false. Nothing is rounded.
func DewPoint(airC, relativeHumidity float64) (dewC float64, ok bool) {
	if !(airC >= -40 && airC <= 50) || !(relativeHumidity > 0 && relativeHumidity <= 100) {
		return 0, false
	}
	gamma := math.Log(relativeHumidity/100) + magnusA*airC/(magnusB+airC)
	return magnusB * gamma / (magnusA - gamma), true
}

// evaporativeCooling is by how many kelvin a fast-drying coat may cool the
// surface: 20 °F, as a woodworking knowledge base (2006) gives it for spraying.
const evaporativeCooling = 11.1
