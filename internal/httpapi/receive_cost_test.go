package httpapi_test

import (
	"bytes"
	"fmt"
	"net/http"
	"net/http/httptest"
	"runtime"
	"strings"
	"testing"

	"meniscus/internal/httpapi"
)

// What was retracted and then redacted travels, and is what the receiver's own
// record gives.
func TestARetractedAndRedactedTreatmentIsReceived(t *testing.T) {
	t.Parallel()
	a := newService(t)
	bone := a.create("/v1/specimens", specimen("LV.1")).id()
	for _, after := range []string{"", "amended", "again"} {
		made := a.create("/v1/treatments", treatment(bone, "cleaning", "2001"))
		if after != "" {
			made = a.amend(made, treatment(bone, "cleaning", "2002"))
		}
		a.do(http.MethodPost, "/v1/records/"+made.id()+"/retraction", object{"reason": "Twice on record."}, anyTag).want(201)
		if after == "again" {
			a.amend(a.do(http.MethodGet, "/v1/treatments/"+made.id(), nil), treatment(bone, "cleaning", "2003"))
		}
		a.do(http.MethodPost, "/v1/records/"+made.id()+"/redaction", object{"reason": "Names a person."}, anyTag).want(201)
	}
	hill := a.neighbour("Museum on the Hill")
	hill.receive(a.pack(bone)).want(201)
	hill.refresh()
	if wrong := hill.verify(); len(wrong) > 0 {
		t.Errorf("got %v, want nothing wrong", wrong)
	}
}

// allocated is how many bytes work allocates.
func allocated(work func()) uint64 {
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	work()
	runtime.ReadMemStats(&after)
	return after.TotalAlloc - before.TotalAlloc
}

// A package that was received before is compared in linear time: twice as many
// revisions of one record take some twice the bytes.
func TestAPackageThatIsHereIsComparedOnce(t *testing.T) { // alone, because it measures the process
	a := newService(t)
	who := a.create("/v1/specimens", specimen("LV.1"))
	hill := a.neighbour("Museum on the Hill")
	var cost []uint64
	for range 2 {
		for n := range 150 * (1 + len(cost)) {
			who = a.amend(who, specimen(fmt.Sprintf("LV.%d", n+2)))
		}
		pack := a.pack(who.id())
		hill.receive(pack).want(201)
		cost = append(cost, allocated(func() { hill.receive(pack).want(201) }))
	}
	if cost[1] > 4*cost[0] {
		t.Errorf("150 revisions took %d bytes and 450 took %d, want some three times", cost[0], cost[1])
	}
}

// A package takes some twice its bytes beside what a chunk of it takes, so that the
// largest one that is taken holds what its class declares.
func largePackage(t *testing.T) {
	a := newService(t)
	bone := a.create("/v1/specimens", specimen("LV.1")).id()
	text := strings.Repeat("Ä word. ", 2400)
	for n := range 250 {
		coat := treatment(bone, "coating", fmt.Sprint(1000+n))
		coat["remarks"] = text
		a.create("/v1/treatments", coat)
	}
	pack := a.pack(bone)
	hill := a.neighbour("Museum on the Hill")
	h := mustServe(t, httpapi.Config{Store: a.store, PublicURL: "https://meniscus.example"})
	w := &forgetful{header: http.Header{}}
	request := httptest.NewRequest(http.MethodPost, "/v1/specimen-receipts", bytes.NewReader(pack))
	request.Header.Set("Authorization", "Bearer "+hill.key)
	request.Header.Set("Content-Type", "application/x-ndjson")
	got := peak(1<<20, func() { h.ServeHTTP(w, request) })
	if most := uint64(32<<20 + 5*len(pack)/2); got > most || w.status != http.StatusCreated {
		t.Errorf("%d bytes of package took %d at a time, want %d at most; answered %d", len(pack), got, most, w.status)
	}
}
