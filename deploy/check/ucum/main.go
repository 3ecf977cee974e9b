// Command ucum writes every accepted unit, with two values in it converted to the other
// units of its kind: one JSON object a line. deploy/check/ucum.mjs compares them with
// those of another library for the codes.
package main

import (
	"encoding/json"
	"log"
	"math/big"
	"os"

	"meniscus/internal/quantity"
)

type conversion struct {
	From  quantity.Unit `json:"from"`
	To    quantity.Unit `json:"to"`
	Value float64       `json:"value"`
	Gives float64       `json:"gives"`
}

func main() {
	out := json.NewEncoder(os.Stdout)
	for _, from := range quantity.Units() {
		for _, to := range quantity.UnitsOf(from.Kind()) {
			for _, value := range []float64{1, 37.5} {
				if err := out.Encode(convert(from, to, value)); err != nil {
					log.Fatalf("writing a conversion: %v", err)
				}
			}
		}
	}
}

func convert(from, to quantity.Unit, value float64) conversion {
	exact, err := quantity.Convert(new(big.Rat).SetFloat64(value), from, to)
	if err != nil {
		log.Fatalf("converting %s to %s: %v", from, to, err)
	}
	gives, _ := exact.Float64()
	return conversion{from, to, value, gives}
}
