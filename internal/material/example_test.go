package material_test

import (
	"fmt"

	"meniscus/internal/material"
)

// What does each liquid do to an old film of the acrylic copolymer, and who says
// so? Koob and Gittins (2007) found films of twenty years still soluble; the
// supplier's sheet says that mineral spirits do not dissolve it; on ethanol the
// sources disagree; for water no source was read.
func ExampleBase_Solubility() {
	const film = "ethyl-methacrylate-methyl-acrylate-copolymer"
	for _, solvent := range []string{"acetone", "white-spirit-stoddard-solvent", "ethanol", "water"} {
		got := material.Builtin().Solubility(film, material.AnyGrade, solvent, material.Aged)
		fmt.Printf("%s: %s (seen on old films: %t, recalled only: %t)\n", solvent, got.Observed, got.AgeSeen, got.Recalled)
		for _, row := range got.Rows {
			fmt.Printf("  %s: %s [%s]\n", row.Observed, row.Evidence.Source.Citation, row.Evidence.Status)
		}
	}
	// Output:
	// acetone: dissolves (seen on old films: true, recalled only: false)
	//   dissolves: Koob; Gittins, Conservation DistList 21:9, 2007 [read]
	// white-spirit-stoddard-solvent: no-effect (seen on old films: false, recalled only: false)
	//   no-effect: Supplier of the ethyl methacrylate/methyl acrylate copolymer, technical sheet; undated; cannot be found again [read]
	// ethanol: disputed (seen on old films: false, recalled only: false)
	//   dissolves: Acrylic films and their solvents, Heritage Science, 2019, doi 10.1186/s40494-019-0283-9 [verified]
	//   disputed: Recalled from general knowledge; source not seen [memory]
	// water: no-effect (seen on old films: false, recalled only: true)
	//   no-effect: Recalled from general knowledge; source not seen [memory]
}

// How dense is acetone at 20 °C? The CRC Handbook has 0.7845 g/mL at 25 °C, which
// at −0.00113 g/mL per degree (VDI Heat Atlas) is 0.7901 at 20 °C; the half-width
// reaches the 0.7866 of Perry's Handbook at 25 °C.
func ExampleBase_Density() {
	got, err := material.Builtin().Density("acetone", "")
	if err != nil {
		fmt.Println(err)
		return
	}
	read := got.Fact.Evidence
	fmt.Printf("%.4f ± %.4f g/mL (%.54s ...; %s)\n", got.GPerML, got.HalfWidth, read.Source.Citation, read.Status)
	// Output:
	// 0.7901 ± 0.0021 g/mL (CRC Handbook, Physical Constants of Organic Compounds, ...; computed)
}
