package stack

import (
	"cmp"
	"slices"

	"meniscus/internal/edtf"
)

// timeline is a specimen's history laid out for drawing: time across, areas
// down, a lane for each layer.
type timeline struct {
	from, to edtf.Day // the span of time that is drawn
	rows     []timelineRow
	events   []timelineEvent
	bars     int // layers that are drawn, in each of their areas
	hidden   int // layers that are not drawn
	undrawn  int // bars of drawn layers in further areas, left out
	unmarked int // treatments that left no layer and are not marked
}

type timelineRow struct {
	area  Area
	lanes []int // layers
	top   float64
}

// timelineEvent is a treatment that is no layer: a removal, a test, a cleaning.
type timelineEvent struct {
	treatment *Treatment
	area      Area
	word      string
	// x is where it stands; left and right are its ends, and room is what its words may take.
	x, left, right, room float64
	leftward             bool
	line                 int
}

// maxLanes is how many layers, and how many events, a picture shows; the rest is
// counted in it.
const maxLanes = 120

// maxBars is how many bars a picture shows: a layer has one in each of its areas.
const maxBars = 1000

// layOut sorts layers and events into rows.
func (s *Stack) layOut() timeline {
	var t timeline
	byArea := map[Area][]int{}
	for l := range s.layers {
		if s.left() {
			return t
		}
		if l >= maxLanes {
			t.hidden++
			continue
		}
		areas := s.layers[l].Areas
		if len(areas) == 0 {
			areas = []Area{placeUnknown}
		}
		drawn := areas[:min(len(areas), maxBars-t.bars)]
		for _, a := range drawn {
			byArea[a] = append(byArea[a], l)
		}
		t.bars, t.undrawn = t.bars+len(drawn), t.undrawn+len(areas)-len(drawn)
	}
	for _, tr := range s.treatments {
		if s.marked(tr) {
			t.addEvent(tr, s.groundOf(tr), byArea)
		}
	}
	for a, lanes := range byArea {
		t.rows = append(t.rows, timelineRow{area: a, lanes: lanes})
	}
	slices.SortFunc(t.rows, func(a, b timelineRow) int {
		return cmp.Or(cmp.Compare(rowRank(a.area), rowRank(b.area)), cmp.Compare(a.area, b.area))
	})
	t.from, t.to = s.timeSpan()
	return t
}

// placeUnknown is the row of what has no known place.
const placeUnknown Area = "place unknown"

func rowRank(a Area) int {
	switch a {
	case Whole:
		return 0
	case placeUnknown:
		return 2
	}
	return 1
}

// marked tells whether a treatment is marked: it left no layer, or its bar does
// not say what was done and with what.
func (s *Stack) marked(t *Treatment) bool {
	switch t.Action {
	case Removing, Testing, Examining, Sampling, Damage:
		return true
	}
	return len(s.layersOf[t.ID]) == 0 || len(t.Uses) == 0 || len(t.Exposures) > 0
}

func (t *timeline) addEvent(tr *Treatment, areas []Area, rows map[Area][]int) {
	if len(areas) == 0 {
		areas = []Area{placeUnknown}
	}
	for _, a := range areas {
		if len(t.events) >= maxLanes {
			t.unmarked++
			continue
		}
		if _, ok := rows[a]; !ok {
			rows[a] = nil
		}
		t.events = append(t.events, timelineEvent{treatment: tr, area: a})
	}
}

// timeSpan is the time that the picture covers: from a little before the first
// known day to the day asked about, or a little after the last known day.
func (s *Stack) timeSpan() (from, to edtf.Day) {
	see := func(d edtf.Day) {
		if d.IsZero() {
			return
		}
		if from.IsZero() || d.Compare(from) < 0 {
			from = d
		}
		if to.IsZero() || d.Compare(to) > 0 {
			to = d
		}
	}
	for _, t := range s.treatments {
		see(t.When.From)
		see(t.When.To)
	}
	see(s.at)
	if from.IsZero() {
		return edtf.Day{Year: 2000, Month: 1, Day: 1}, edtf.Day{Year: 2001, Month: 1, Day: 1}
	}
	margin := max(30, from.DaysUntil(to)/25)
	return from.AddDays(-margin), to.AddDays(margin / 2)
}

// tickYears are the round years to mark, at most about ten.
func tickYears(from, to edtf.Day) []int {
	step := 1
	for _, step = range []int{1, 2, 5, 10, 20, 50, 100, 200, 500} {
		if (to.Year-from.Year)/step <= 10 {
			break
		}
	}
	var years []int
	for y := (from.Year/step + 1) * step; y <= to.Year; y += step {
		years = append(years, y)
	}
	return years
}
