// Package pdftext reads the texts of PDFs that the program writes, for tests. It knows how
// fpdf writes them, with letters as UTF-16, and nothing else of the format: deploy/check.sh reads
// papers with a program of others.
package pdftext

import (
	"bytes"
	"compress/zlib"
	"io"
	"regexp"
	"unicode/utf16"
)

var (
	streams = regexp.MustCompile(`(?s)stream\r?\n(.*?)\r?\nendstream`)
	shown   = regexp.MustCompile(`(?s)\(((?:\\.|[^\\)])*)\) ?Tj`)
)

// Contents are the streams of a PDF that are packed, unpacked: what stands on its pages among them.
func Contents(pdf []byte) [][]byte {
	var out [][]byte
	for _, m := range streams.FindAllSubmatch(pdf, -1) {
		if z, err := zlib.NewReader(bytes.NewReader(m[1])); err == nil {
			content, _ := io.ReadAll(z) // what can be read of it
			out = append(out, content)
		}
	}
	return out
}

// Of are the texts of a PDF in the order of its bytes.
func Of(pdf []byte) []string {
	var out []string
	for _, content := range Contents(pdf) {
		for _, text := range shown.FindAllSubmatch(content, -1) {
			out = append(out, fromUTF16(unescaped(text[1])))
		}
	}
	return out
}

func unescaped(raw []byte) []byte {
	var out []byte
	for i := 0; i < len(raw); i++ {
		if raw[i] == '\\' && i+1 < len(raw) {
			i++
			if raw[i] == 'r' {
				out = append(out, '\r')
				continue
			}
		}
		out = append(out, raw[i])
	}
	return out
}

func fromUTF16(raw []byte) string {
	units := make([]uint16, len(raw)/2)
	for i := range units {
		units[i] = uint16(raw[2*i])<<8 | uint16(raw[2*i+1])
	}
	return string(utf16.Decode(units))
}
