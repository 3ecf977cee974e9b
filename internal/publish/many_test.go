package publish_test

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"meniscus/internal/edtf"
	"meniscus/internal/publish"
)

// worn is a specimen with n treatments, each with a layer on every one of several
// areas.
func worn(n int) publish.Specimen {
	s := skull()
	one := s.Treatments[0]
	s.Treatments = nil
	s.Present = &publish.PresentState{Day: "2026-03-02"}
	for range 4 {
		s.Present.Areas = append(s.Present.Areas, publish.AreaNow{Area: "skull", Status: "layers"})
	}
	for i := range n {
		one.IRI = fmt.Sprintf("https://meniscus.example/v1/treatments/%d", i)
		s.Treatments = append(s.Treatments, one)
		for a := range s.Present.Areas {
			s.Present.Areas[a].Layers = append(s.Present.Areas[a].Layers,
				publish.LayerNow{Treatment: one.IRI, Material: "shellac", State: "present"})
		}
	}
	return s
}

// TestPagesCountWhatTheirLayersLeaveOut: layers that the caller left out are counted
// with those that the page leaves out.
func TestPagesCountWhatTheirLayersLeaveOut(t *testing.T) {
	t.Parallel()
	s := worn(1)
	s.Present.MoreLayers = 7
	body, err := publish.SpecimenPage(s)
	if err != nil || !strings.Contains(string(body), "7 more layers") {
		t.Errorf("got no word of the 7 layers that are left out, %v", err)
	}
}

// A date whose words are what was written is said once.
func TestADateIsSaidOnce(t *testing.T) {
	t.Parallel()
	for written, want := range map[string]string{"1996": "<dd>1996</dd>", "2009-03-10": "<dd>10 March 2009 (2009-03-10)</dd>"} {
		s := skull()
		date, err := edtf.Parse(written)
		if err != nil {
			t.Fatal(err)
		}
		s.Treatments[0].Date = publish.Date{Date: date}
		page, err := publish.TreatmentPage(s.Treatments[0], s)
		if err != nil || !strings.Contains(string(page), want) {
			t.Errorf("%s: %v, want %s on the page", written, err, want)
		}
	}
}

// TestPagesOfVeryManyTreatments: pages are bounded, and say how many treatments
// they leave out and link to them; of an ordinary number nothing is left out.
func TestPagesOfVeryManyTreatments(t *testing.T) {
	t.Parallel()
	sizes := map[int]int{}
	for _, n := range []int{100, 2_500, 5_000} {
		body, err := publish.SpecimenPage(worn(n))
		if err != nil {
			t.Fatal(err)
		}
		sizes[n] = len(body)
		if got := bytes.Contains(body, []byte("left out")); got != (n > 100) {
			t.Errorf("of %d: got left out %v", n, got)
		}
		for what, want := range map[string]string{
			"treatments": fmt.Sprint(n-500) + " earlier treatments", "layers": fmt.Sprint(4*n-500) + " more layers",
		} {
			if n > 100 && !strings.Contains(string(body), want) {
				t.Errorf("of %d: got no %q, want the %s that are left out counted", n, want, what)
			}
		}
	}
	if sizes[2_500] > 1<<20 || sizes[5_000] > sizes[2_500]+1000 {
		t.Errorf("got %v bytes, want it bounded", sizes)
	}
}
