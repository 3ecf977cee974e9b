package solution

import (
	"encoding/xml"
	"io"
	"math"
	"os"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestTeasTriangle(t *testing.T) {
	t.Parallel()
	a := mustBlend(t, mix("acetone", "80", "ethanol", "20"))
	svg := TeasTriangle(a)
	if path := os.Getenv("TEAS_SVG"); path != "" {
		_ = os.WriteFile(path, svg, 0o600)
	}
	wellFormed(t, svg)
	for _, want := range []string{"<title id=\"title\">Teas triangle: acetone and ethanol</title>",
		"Point 1, acetone: dispersion 47, polar 32, hydrogen bonding 21 per cent", "The blend: dispersion 45",
		`role="img"`, "acetone, 80 % by volume"} {
		if !strings.Contains(string(svg), want) {
			t.Errorf("the drawing does not hold %q", want)
		}
	}
}

// Names are text and never markup; a solvent without fractions is listed, not placed.
func TestTeasTriangleEscapesAndLists(t *testing.T) {
	t.Parallel()
	svg := TeasTriangle(SolventBlendAnswer{Parts: []BlendPart{{Name: `spirit <"of"> A & B`}}})
	wellFormed(t, svg)
	if s := string(svg); !strings.Contains(s, "not placed") || strings.Contains(s, "<\"of\">") {
		t.Errorf("got %s", s)
	}
}

func wellFormed(t *testing.T, svg []byte) {
	t.Helper()
	d := xml.NewDecoder(strings.NewReader(string(svg)))
	for {
		if _, err := d.Token(); err == io.EOF {
			return
		} else if err != nil {
			t.Fatalf("not well-formed: %v", err)
		}
	}
}

// Every point lies in the triangle, and a blend between its solvents.
func TestTeasPlaces(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(rt *rapid.T) {
		draw := func(name string) Teas {
			d := rapid.Float64Range(0, 100).Draw(rt, name+" d")
			p := rapid.Float64Range(0, 100-d).Draw(rt, name+" p")
			return Teas{Dispersion: d, Polar: p, Hydrogen: 100 - d - p}
		}
		u, v := draw("u"), draw("v")
		f := rapid.Float64Range(0, 1).Draw(rt, "f")
		m := Teas{Dispersion: f*u.Dispersion + (1-f)*v.Dispersion, Polar: f*u.Polar + (1-f)*v.Polar,
			Hydrogen: f*u.Hydrogen + (1-f)*v.Hydrogen}
		ux, uy := place(u)
		vx, vy := place(v)
		x, y := place(m)
		if math.Abs(x-(f*ux+(1-f)*vx)) > 1e-9*sheetWidth || math.Abs(y-(f*uy+(1-f)*vy)) > 1e-9*sheetWidth {
			rt.Errorf("the blend is not on the line: %g, %g", x, y)
		}
		if y > baseLine+1e-9 || y < cornerH[1]-1e-9 || x < cornerD[0]-1e-9 || x > cornerP[0]+1e-9 {
			rt.Errorf("outside of the triangle: %g, %g", x, y)
		}
	})
}
