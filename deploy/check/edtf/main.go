// Command edtf answers, for each JSON string on a line of standard input, how the date
// is read: one JSON object a line. deploy/check/edtf.mjs compares the answers with
// those of another library for the format.
package main

import (
	"bufio"
	"encoding/json"
	"log"
	"os"

	"meniscus/internal/edtf"
	"meniscus/internal/fault"
)

type answer struct {
	Text     string `json:"text"`
	Code     string `json:"code,omitempty"`
	Earliest string `json:"earliest,omitempty"`
	Latest   string `json:"latest,omitempty"`
	Level    int    `json:"level"`
	Season   bool   `json:"season"`
}

func main() {
	lines := bufio.NewScanner(os.Stdin)
	out := json.NewEncoder(os.Stdout)
	for lines.Scan() {
		var text string
		if err := json.Unmarshal(lines.Bytes(), &text); err != nil {
			log.Fatalf("reading a line: %v", err)
		}
		if err := out.Encode(read(text)); err != nil {
			log.Fatalf("writing an answer: %v", err)
		}
	}
	if err := lines.Err(); err != nil {
		log.Fatalf("reading standard input: %v", err)
	}
}

func read(text string) answer {
	d, err := edtf.Parse(text)
	if err != nil {
		return answer{Text: text, Code: fault.From(err)[0].Code}
	}
	earliest, _ := d.Earliest()
	latest, _ := d.Latest()
	return answer{Text: text, Earliest: earliest.String(), Latest: latest.String(),
		Level: d.Level(), Season: d.Precision() == edtf.ToSeason}
}
