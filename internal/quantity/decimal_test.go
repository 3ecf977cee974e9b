package quantity

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"meniscus/internal/fault"
)

func TestDecimalKeepsItsDigits(t *testing.T) {
	t.Parallel()
	for _, text := range []string{"0", "20.00", "20", "0.050", "-3.10", "1e3", "1.50E-2", "-0", "0.0",
		"9007199254740993", "1e30", "1e-30"} {
		d, err := ParseDecimal(text)
		if err != nil {
			t.Errorf("ParseDecimal(%q): got %v, want no error", text, err)
			continue
		}
		out, err := json.Marshal(d)
		if err != nil || string(out) != text {
			t.Errorf("json of %q: got %s, %v, want the digits as written", text, out, err)
		}
		var back Decimal
		if err := json.Unmarshal(out, &back); err != nil || back != d {
			t.Errorf("read back %q: got %v, %v", text, back, err)
		}
	}
}

func TestDecimalRefuses(t *testing.T) {
	t.Parallel()
	for text, code := range map[string]string{
		"": "number-malformed", "+1": "number-malformed", "01": "number-malformed", ".5": "number-malformed",
		"5.": "number-malformed", "1e": "number-malformed", "1e+": "number-malformed", "NaN": "number-malformed",
		"Infinity": "number-malformed", "-": "number-malformed", "1 ": "number-malformed", "1,5": "number-malformed",
		"0x10": "number-malformed", "1_000": "number-malformed", "\"1\"": "number-malformed", "null": "number-malformed",
		"1e308": "number-out-of-range", "1e-308": "number-out-of-range", "1e31": "number-out-of-range",
		"1e999999999999999999999":             "number-out-of-range",
		"12345678901234567890123456789012345": "number-too-long",
	} {
		_, err := ParseDecimal(text)
		found := fault.From(err)
		if len(found) != 1 || found[0].Code != code {
			t.Errorf("ParseDecimal(%q): got %v, want a fault %s", text, err, code)
		}
	}
}

func TestDecimalFromFloat(t *testing.T) {
	t.Parallel()
	for f, want := range map[float64]string{0.1: "0.1", 30: "30", 1e-7: "1e-07", 123456789: "123456789", -2.5: "-2.5"} {
		d, err := OfFloat(f)
		if err != nil || d.String() != want || d.Float64() != f {
			t.Errorf("OfFloat(%v): got %v, %v, want %s", f, d, err, want)
		}
	}
	for _, f := range []float64{math.NaN(), math.Inf(1), math.Inf(-1), 1e308, 1e-308} {
		if d, err := OfFloat(f); len(fault.From(err)) != 1 {
			t.Errorf("OfFloat(%v): got %v, %v, want a fault", f, d, err)
		}
	}
}

func TestDecimalCompares(t *testing.T) {
	t.Parallel()
	a, b := MustDecimal("20.0"), MustDecimal("2e1")
	if a == b || a.Rat().Cmp(b.Rat()) != 0 {
		t.Errorf("20.0 and 2e1: got ==%v, Cmp %d, want different texts of one number", a == b, a.Rat().Cmp(b.Rat()))
	}
	if got := MustDecimal("0.10").Places(); got != 2 {
		t.Errorf("places of 0.10: got %d, want 2", got)
	}
	if got := (Decimal{}).String(); got != "0" {
		t.Errorf("zero value: got %s, want 0", got)
	}
}

func TestDecimalAgreesWithItsExactValue(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringMatching(`-?(0|[1-9][0-9]{0,8})(\.[0-9]{1,12})?`).Draw(t, "text")
		d, err := ParseDecimal(text)
		if err != nil {
			t.Fatalf("ParseDecimal(%q): %v", text, err)
		}
		want, _ := d.Rat().Float64()
		if got := d.Float64(); got != want {
			t.Fatalf("%q: got %v, want %v", text, got, want)
		}
	})
}

func FuzzDecimal(f *testing.F) {
	for _, seed := range []string{"0", "20.00", "1e308", "-1.5e-3", "NaN", "1e", "00", "9e-31"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		d, err := ParseDecimal(text)
		if err != nil {
			if len(fault.From(err)) != 1 {
				t.Errorf("%q: got %v, want a fault", text, err)
			}
			return
		}
		if !json.Valid([]byte(text)) || d.String() != text {
			t.Errorf("%q was accepted: valid JSON %v, written back %q", text, json.Valid([]byte(text)), d)
		}
		if x := d.Float64(); math.IsNaN(x) || math.IsInf(x, 0) {
			t.Errorf("%q: got %v, want a finite number", text, x)
		}
	})
}

// A number of very many zeros is refused by its length, whatever its size is.
func TestDecimalsOfManyZeros(t *testing.T) {
	t.Parallel()
	for _, text := range []string{"0." + strings.Repeat("0", 1_000_000), "0." + strings.Repeat("0", 5000) + "1e5000",
		"0e" + strings.Repeat("0", 200), strings.Repeat("1", 1_000_000)} {
		if _, err := ParseDecimal(text); len(fault.From(err)) != 1 || fault.From(err)[0].Code != "number-too-long" {
			t.Errorf("%.20s… of %d characters: got %v, want it refused as too long", text, len(text), err)
		}
	}
}
