package httpapi

import (
	"fmt"
	"time"

	"github.com/getkin/kin-openapi/openapi3"
)

// work is a class of work: what one request of it costs at most, and how much of
// it goes on at once. The contract gives each operation its class, as `x-work`.
type work struct {
	name string
	// holds is the memory, in MiB, that one request holds at most at a time beside
	// its body: what it reads of the database, works out, and has not sent yet.
	holds int64
	// each is how many bytes of memory a byte of a JSON body takes at most, from
	// its bytes as they came to the values that the handler works with.
	each int64
	// own is how many go on at once for one institution, or without a key for one
	// address; all is that for everybody. They are in processors of this process
	// (GOMAXPROCS), at least 1: work waits for turns, so that nobody's work takes
	// all processors and all connections to the database.
	own, all float64
	// statement is how long a statement to the database may take.
	statement time.Duration
	// retry is when a caller who was sent away may come again.
	retry time.Duration
}

// classes are all of them. TestClassesCostWhatTheySay measures the heaviest
// requests that the contract takes against holds and each.
var classes = map[string]*work{
	// Probes never wait and hold next to nothing.
	"probe": {name: "probe"},
	// Documents that are the same for everybody, made at start; compressed for each.
	"page": {name: "page", holds: 4, own: 2, all: 16, statement: time.Second, retry: time.Second},
	// Arithmetic, without a key and without the database.
	"compute": {name: "compute", holds: 8, each: 48, own: 0.5, all: 2, statement: 5 * time.Second, retry: time.Second},
	// Lookups, lists of a page, and everything about one specimen or batch. Large
	// ones are sheets, removal plans and labels of 100 copies.
	"read": {name: "read", holds: 24, each: 48, own: 1, all: 8, statement: 10 * time.Second, retry: time.Second},
	// Most of a write's time is the database's disk, so that there are more turns.
	"write": {name: "write", holds: 8, each: 64, own: 2, all: 16, statement: 10 * time.Second, retry: time.Second},
	// A report reads up to a page of specimens with all their layers.
	"report": {name: "report", holds: 64, each: 0, own: 0.5, all: 2, statement: time.Minute, retry: 5 * time.Second},
	// An export has one page of entries in memory, and holds no connection while its
	// reader reads.
	"export": {name: "export", holds: 32, each: 0, own: 0.5, all: 8, statement: time.Minute, retry: 10 * time.Second},
	// An import has two chunks in memory: one is read while the other is recorded.
	"import": {name: "import", holds: 64, each: 0, own: 0.5, all: 4, statement: time.Minute, retry: 10 * time.Second},
	// A stream waits nearly always; each page that it sends has a turn as a read.
	// How many are open at once is Streams.Most.
	"stream": {name: "stream", holds: 1, own: 1000, all: 1000, statement: 10 * time.Second, retry: 10 * time.Second},
}

// workOf reads the class of an operation.
func workOf(o *openapi3.Operation) (*work, error) {
	name, _ := o.Extensions["x-work"].(string)
	class := classes[name]
	if class == nil {
		return nil, fmt.Errorf("operation %s needs its class of work in x-work, and has %q", o.OperationID, name)
	}
	return class, nil
}

// costs is the memory, in MiB, that a request with a body of so many bytes holds
// at most.
func (w *work) costs(body int64) int64 {
	const mebibyte = 1 << 20
	return w.holds + (body*w.each+mebibyte-1)/mebibyte
}

// turns are a number of processors' turns.
func turns(each float64, processors int) int64 { return max(1, int64(each*float64(processors))) }
