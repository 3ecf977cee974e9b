package httpapi_test

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"syscall"
	"testing"
	"time"

	"github.com/google/uuid"
)

// BenchmarkRequests tells what whole requests with a key cost the service, from the handler to the database and back, as a
// browser would ask for them: compressed.
//
//	go test ./internal/httpapi -run '^$' -bench Requests -benchmem -benchtime 500x -cpuprofile cpu.out -memprofile mem.out
func BenchmarkRequests(b *testing.B) {
	s := newService(b)
	history, layers, busy := s.twentyTreatments(), s.twoHundredLayers(), s.create("/v1/specimens", specimen("LV.3")).id()
	proposed := treatment(layers, "consolidation", "2026")
	proposed["method"] = "brush"
	proposed["materials"] = array{object{"role": "consolidant", "used": object{"material": object{
		"id": "ethyl-methacrylate-methyl-acrylate-copolymer", "certainty": "documented",
		"solvents": array{object{"id": "acetone", "fraction": 1}}}}}}
	for _, x := range []struct {
		name, method, path string
		body               any
	}{
		{"history", http.MethodGet, "/v1/specimens/" + history + "/treatments?limit=20", nil},
		{"lookup", http.MethodGet, "/v1/specimen-lookup?number=LV.20", nil},
		{"record", http.MethodPost, "/v1/treatments", object{"statement": treatment(busy, "cleaning", "2020-03-04")}},
		{"make-up", http.MethodPost, "/v1/compute/make-up", benched[0].body},
		{"dilute", http.MethodPost, "/v1/compute/dilute", benched[1].body},
		{"check", http.MethodPost, "/v1/treatment-checks", object{"treatment": proposed}},
		{"plan", http.MethodGet, "/v1/specimens/" + layers + "/removal-plan", nil},
		{"present", http.MethodGet, "/v1/specimens/" + layers + "/present-state", nil},
	} {
		b.Run(x.name, func(b *testing.B) {
			b.ReportAllocs()
			began := spent(b)
			for b.Loop() {
				r := httptest.NewRequestWithContext(b.Context(), x.method, x.path, reader(b, x.body))
				r.Header.Set("Authorization", "Bearer "+s.key)
				r.Header.Set("Content-Type", "application/json")
				r.Header.Set("Accept-Encoding", "gzip")
				r.Header.Set("Idempotency-Key", uuid.NewString())
				w := httptest.NewRecorder()
				s.api.ServeHTTP(w, r)
				if w.Code/100 != 2 {
					b.Fatalf("got %d: %s", w.Code, w.Body)
				}
			}
			b.ReportMetric(float64((spent(b)-began).Microseconds())/float64(b.N), "cpu-us/op")
		})
	}
}

// spent is the processor time that this process has taken, which the database's is no part of.
func spent(b *testing.B) time.Duration {
	var used syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &used); err != nil {
		b.Fatal(err)
	}
	return time.Duration(used.Utime.Nano() + used.Stime.Nano())
}

// twentyTreatments records a specimen that was cleaned in twenty years.
func (s *service) twentyTreatments() (id string) {
	id = s.create("/v1/specimens", specimen("LV.20")).id()
	for n := range 20 {
		s.create("/v1/treatments", treatment(id, "cleaning", fmt.Sprint(1990+n)))
	}
	return id
}

// twoHundredLayers records a specimen with coats of three resins, one over the other.
func (s *service) twoHundredLayers() (id string) {
	id = s.create("/v1/specimens", specimen("LV.200")).id()
	resins := []string{"ethyl-methacrylate-methyl-acrylate-copolymer", "pvb-high-hydroxyl", "cellulose-nitrate"}
	for n := range 200 {
		coat := treatment(id, "coating", fmt.Sprintf("19%02d-%02d-01", 20+n/10, 1+n%10))
		coat["materials"] = array{object{"role": "coating", "used": object{"material": object{"id": resins[n%3],
			"certainty": "documented"}}}}
		s.create("/v1/treatments", coat)
	}
	return id
}
