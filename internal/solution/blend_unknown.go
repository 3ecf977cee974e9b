package solution

import "slices"

// unknown gives the places of the stocks whose basis is unknown.
func (in BlendInput) unknown() []int {
	var at []int
	for i, k := range in.Stocks {
		if k.isUnknown() {
			at = append(at, i)
		}
	}
	return at
}

// blendUnknown blends on every reading of the stocks at the places.
func blendUnknown(in BlendInput, places []int) (BlendAnswer, error) {
	unknown := make([]unknownStock, len(places))
	for i, place := range places {
		unknown[i] = unknownStock{in.Stocks[place].Stock, "/stocks" + indexed(place) + "/stock"}
	}
	readings, err := overReadings(unknown, in.Strength.Basis, func(as []Stock) (ByReading, error) {
		read := in
		read.Stocks = slices.Clone(in.Stocks)
		for i, place := range places {
			read.Stocks[place].Stock = as[i]
		}
		a, b, err := blended(read)
		if err != nil {
			return ByReading{}, err
		}
		return ByReading{Uses: b.uses(a), Mixture: a.Exact, made: b.made(places)}, nil
	})
	if err != nil {
		return BlendAnswer{}, err
	}
	a := BlendAnswer{Readings: readings, Ranges: ranges(readings)}
	a.unknownBasis(readings, a.Ranges)
	return a, nil
}

// uses are the stocks that are used, and the fresh solvent where one is.
func (b *blending) uses(a BlendAnswer) []Use {
	all := a.Uses
	if a.Fresh.Grams > 0 {
		all = append(slices.Clone(all), a.Fresh)
	}
	return all
}

// made is what of the blend came from the stocks at the places.
func (b *blending) made(places []int) made {
	x := b.s.nominal()
	m := made{s: b.s, whole: b.mix(x, b.grams)}
	for _, place := range places {
		m.share, m.taken = append(m.share, b.products[place].share(x)), append(m.taken, b.grams[place])
	}
	return m
}
