package paper_test

import "testing"

// BenchmarkPDF tells what a short paper takes; a computation holds at most 8 MiB.
func BenchmarkPDF(b *testing.B) {
	for b.Loop() {
		if _, err := sample().PDF(); err != nil {
			b.Fatal(err)
		}
	}
}
