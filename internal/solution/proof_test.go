package solution

import (
	"slices"
	"testing"

	"meniscus/internal/fault"
	"meniscus/internal/quantity"
)

// TestProof: US proof is twice the volume fraction at 60 °F. Bringing 100 volumes of 112
// proof to 100 proof takes 12.42 volumes of water (27 CFR 30.66, which prints 53.73 and
// 47.75 parts of water in them).
func TestProof(t *testing.T) {
	t.Parallel()
	proof := func(n string) Strength {
		return Strength{Basis: VolumeFraction, Number: quantity.Quantity{Value: quantity.MustDecimal(n), Unit: quantity.USProof}}
	}
	a, err := ComputeEthanolWater(EthanolWater{Reference: quantity.New("60", "[degF]"), Dilution: &SpiritDilution{
		Stock: proof("112"), Target: proof("100"), StockAmount: quantity.New("100", "L")}})
	if err != nil {
		t.Fatal(err)
	}
	within(t, "water, L", a.Dilution.WaterVolume.Value/1000, 12.42, 0.02)
	// The same proofs at another reference are the same spirits.
	b, err := ComputeEthanolWater(EthanolWater{Mixing: &SpiritMixing{Parts: []SpiritPart{
		{new(proof("112")), quantity.New("1", "kg")}, {new(proof("112")), quantity.New("1", "kg")}}}})
	if err != nil {
		t.Fatal(err)
	}
	within(t, "mass fraction of 112 proof, %", b.Mixture.ByMass.Value, 100*ethanolMassFraction(0.56, proofCelsius), 1e-9)
}

// TestProofElsewhere: half of a US proof, read as % by volume at 20 °C, is within 0.08 of
// what it is at 60 °F.
func TestProofElsewhere(t *testing.T) {
	t.Parallel()
	for half := 0.0; half <= 1; half += 0.005 {
		at20 := ethanolVolumeFraction(ethanolMassFraction(half, proofCelsius), referenceCelsius)
		within(t, "the volume fraction at 20 °C, %", 100*at20, 100*half, 0.08)
	}
}

// TestSpiritReadings: a number without a basis gets its readings.
func TestSpiritReadings(t *testing.T) {
	t.Parallel()
	for unit, want := range map[quantity.Unit][]float64{
		quantity.One: {100 * ethanolMassFraction(0.7, 20), 70}, Proof: {100 * ethanolMassFraction(0.35, proofCelsius),
			100 * ethanolMassFraction(0.4, proofCelsius)},
	} {
		bare := Strength{Number: quantity.Quantity{Value: quantity.MustDecimal("70"), Unit: unit}}
		_, err := ComputeEthanolWater(EthanolWater{Properties: &SpiritProperties{Strength: &bare, Temperature: quantity.New("20", "Cel")}})
		f := new(fault.Fault)
		if list := fault.From(err); len(list) != 1 {
			t.Fatalf("%s: got %v, want one fault", unit, err)
		} else {
			f = list[0]
		}
		readings, _ := f.Extra["readings"].([]Reading)
		var got []float64
		for _, r := range readings {
			got = append(got, r.MassPercent)
		}
		slices.Sort(got)
		if f.Code != "strength-basis-missing" || len(got) != len(want) {
			t.Fatalf("%s: got %s with %v, want the readings %v", unit, f.Code, got, want)
		}
		slices.Sort(want)
		for i := range want {
			within(t, "a reading, % by mass", got[i], want[i], 1e-9)
		}
	}
}
