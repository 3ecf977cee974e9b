package solution

import "slices"

// tabulated is a substance by a table of its density in water at 20 °C: % by mass and g/mL, from none on. Between the
// entries it follows cubics with the slopes of the neighbours.
func tabulated(id string, standard float64, table ...[2]float64) aqueous {
	slopes := slopesOf(table)
	density := func(w, _ float64) float64 {
		percent := min(max(100*w, 0), table[len(table)-1][0])
		i, exact := slices.BinarySearchFunc(table, percent, func(e [2]float64, x float64) int {
			return int(sign(e[0] - x))
		})
		if exact {
			return table[i][1]
		}
		low, high := table[i-1], table[i]
		h := high[0] - low[0]
		t := (percent - low[0]) / h
		return low[1]*(1+2*t)*(1-t)*(1-t) + h*slopes[i-1]*t*(1-t)*(1-t) +
			high[1]*t*t*(3-2*t) + h*slopes[i]*t*t*(t-1)
	}
	return aqueous{id, id, span{19.5, 20.5, false}, table[len(table)-1][0] / 100, density, standard, handbookSource}
}

// slopesOf are the slopes of a table at its entries: of the parabola through three neighbours, at the ends of the line.
func slopesOf(table [][2]float64) []float64 {
	last := len(table) - 1
	slopes := make([]float64, last+1)
	step := func(i int) (width, slope float64) {
		width = table[i+1][0] - table[i][0]
		return width, (table[i+1][1] - table[i][1]) / width
	}
	_, slopes[0] = step(0)
	_, slopes[last] = step(last - 1)
	for i := 1; i < last; i++ {
		before, left := step(i - 1)
		after, right := step(i)
		slopes[i] = (after*left + before*right) / (before + after)
	}
	return slopes
}

func sign(x float64) float64 {
	switch {
	case x < 0:
		return -1
	case x > 0:
		return 1
	}
	return 0
}

var handbookSource = Cited("crc-solutions", Read)

// tables are the liquids whose density in water is held by a handbook's table. Its last digit is 0.0001 g/mL; half a
// degree changes the density by up to 0.0005 g/mL; and where propan-2-ol and propan-1-ol have an entry at every 20 % only,
// the curve may be 0.0007 g/mL off (methanol's and propan-1-ol's, with as few entries, are).
var tables = []aqueous{
	tabulated("acetone", 0.0003, [2]float64{0, 0.9982}, [2]float64{0.5, 0.9975}, [2]float64{1, 0.9968},
		[2]float64{2, 0.9954}, [2]float64{3, 0.994}, [2]float64{4, 0.9926}, [2]float64{5, 0.9912}, [2]float64{6, 0.9899},
		[2]float64{7, 0.9886}, [2]float64{8, 0.9874}, [2]float64{9, 0.9861}, [2]float64{10, 0.9849}),
	tabulated("methanol", 0.0003, [2]float64{0, 0.9982}, [2]float64{1, 0.9964}, [2]float64{2, 0.9947},
		[2]float64{4, 0.9913}, [2]float64{6, 0.988}, [2]float64{8, 0.9848}, [2]float64{10, 0.9816}, [2]float64{12, 0.9785},
		[2]float64{16, 0.9725}, [2]float64{20, 0.9666}, [2]float64{24, 0.9606}, [2]float64{28, 0.9545},
		[2]float64{32, 0.9482}, [2]float64{36, 0.9416}, [2]float64{40, 0.9347}, [2]float64{44, 0.9273},
		[2]float64{48, 0.9196}, [2]float64{52, 0.9114}, [2]float64{56, 0.903}, [2]float64{60, 0.8944},
		[2]float64{64, 0.8856}, [2]float64{68, 0.8763}, [2]float64{72, 0.8667}, [2]float64{76, 0.8568},
		[2]float64{80, 0.8468}, [2]float64{84, 0.8365}, [2]float64{88, 0.8259}, [2]float64{92, 0.8148},
		[2]float64{96, 0.8034}, [2]float64{100, 0.7917}),
	tabulated("propan-1-ol", 0.0005, [2]float64{0, 0.9982}, [2]float64{1, 0.9963}, [2]float64{2, 0.9946},
		[2]float64{4, 0.9911}, [2]float64{6, 0.9882}, [2]float64{8, 0.9855}, [2]float64{10, 0.9829}, [2]float64{12, 0.9804},
		[2]float64{16, 0.9749}, [2]float64{20, 0.9686}, [2]float64{24, 0.9612}, [2]float64{28, 0.9533},
		[2]float64{32, 0.9452}, [2]float64{36, 0.937}, [2]float64{40, 0.9288}, [2]float64{60, 0.8875},
		[2]float64{80, 0.847}, [2]float64{100, 0.8034}),
	tabulated("propan-2-ol", 0.0005, [2]float64{0, 0.9982}, [2]float64{1, 0.996}, [2]float64{2, 0.9939},
		[2]float64{4, 0.9902}, [2]float64{6, 0.9871}, [2]float64{8, 0.9843}, [2]float64{10, 0.9816}, [2]float64{12, 0.9793},
		[2]float64{14, 0.9772}, [2]float64{16, 0.9751}, [2]float64{18, 0.9725}, [2]float64{20, 0.9696},
		[2]float64{40, 0.9302}, [2]float64{60, 0.8824}, [2]float64{80, 0.8341}, [2]float64{100, 0.7848}),
}
