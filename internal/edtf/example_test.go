package edtf_test

import (
	"fmt"

	"meniscus/internal/edtf"
)

// When was the bone consolidated, at the earliest and at the latest? The texts
// are those of the Library of Congress EDTF specification (2019-02-04); a decade
// ends with its last day, and an open or unknown end has no day.
func ExampleParse() {
	for _, text := range []string{"1985-04-12", "201X", "2004-06~", "1964/2008", "1985/..", "/1985-04"} {
		date, err := edtf.Parse(text)
		if err != nil {
			fmt.Println(err)
			continue
		}
		earliest, from := date.Earliest()
		latest, to := date.Latest()
		fmt.Printf("%s: %s", text, date.Words())
		if from {
			fmt.Printf("; not before %s", earliest)
		}
		if to {
			fmt.Printf("; not after %s", latest)
		}
		fmt.Println()
	}
	// Output:
	// 1985-04-12: 12 April 1985; not before 1985-04-12; not after 1985-04-12
	// 201X: the 2010s; not before 2010-01-01; not after 2019-12-31
	// 2004-06~: about June 2004; not before 2004-06-01; not after 2004-06-30
	// 1964/2008: from 1964 to 2008; not before 1964-01-01; not after 2008-12-31
	// 1985/..: from 1985 on; not before 1985-01-01
	// /1985-04: from an unknown date to April 1985; not after 1985-04-30
}

// The label is of "1984?", which may be 1983 to 1985. Was it there before the
// skull was joined? Dates whose bounds overlap do not say.
func ExamplePeriod_Overlaps() {
	label := edtf.MustParse("1984?").Period()
	for _, text := range []string{"1985-04", "1986-04", "1964/2008"} {
		joined := edtf.MustParse(text).Period()
		if label.Overlaps(joined) {
			fmt.Println(text, "may be earlier or later")
		} else {
			fmt.Println(text, "is later:", label.To.Compare(joined.From) < 0)
		}
	}
	// Output:
	// 1985-04 may be earlier or later
	// 1986-04 is later: true
	// 1964/2008 may be earlier or later
}
