package httpapi

import (
	"fmt"
	"time"

	"github.com/getkin/kin-openapi/openapi3"
)

// work is a class of work: what one request of it costs at most. The contract
// gives each operation its class, as `x-work`.
type work struct {
	name string
	turn string // which turns it takes
	// holds is the memory, in MiB, that one request holds at most at a time beside
	// its body: what it reads of the database, works out, and has not sent yet.
	holds int64
	// each is how many bytes of memory a byte of a JSON body takes at most, from its
	// bytes as they came to the values that the handler works with. Lists of small
	// objects take the most: seven bytes become a map with a member.
	each int64
	// statement is how long a statement to the database may take.
	statement time.Duration
	// retry is after how long a refused caller may send again.
	retry time.Duration
}

// classes are the classes by name. TestClassesCostWhatTheySay measures the heaviest
// requests that the contract takes against holds and each.
var classes = named([]work{
	// Probes never wait and hold next to nothing.
	{name: "probe"},
	// Documents that are the same for all callers; compressed for each request. The
	// contract is made when it is first asked for.
	{name: "page", turn: "page", holds: 10, statement: time.Second, retry: time.Second},
	// Arithmetic, without a key and without the database; a recipe card as a PDF has its letters
	// in memory.
	{name: "compute", turn: "compute", holds: 12, each: 64, statement: 5 * time.Second, retry: time.Second},
	// One record, what a number is known as, a page of small things.
	{name: "lookup", turn: "light", holds: 8, each: 64, statement: 10 * time.Second, retry: time.Second},
	// A page of records, and everything about one specimen or batch. Large ones are
	// sheets, removal plans and labels of 100 copies.
	{name: "read", turn: "expensive", holds: 80, each: 64, statement: 10 * time.Second, retry: time.Second},
	// Up to a thousand numbers, each with what is known of it; one treatment on 500
	// specimens.
	{name: "bulk", turn: "expensive", holds: 136, each: 64, statement: 10 * time.Second, retry: time.Second},
	{name: "write", turn: "write", holds: 8, each: 64, statement: 10 * time.Second, retry: time.Second},
	// A report reads up to a page of specimens with all their layers.
	{name: "report", turn: "expensive", holds: 64, statement: time.Minute, retry: 5 * time.Second},
	// An export has one page of entries in memory, of 8 MiB of words and the last
	// entry, and holds no connection while its reader reads.
	{name: "export", turn: "export", holds: 48, statement: time.Minute, retry: 10 * time.Second},
	// An import has two chunks in memory: one is read while the other is recorded. A
	// package from another institution is in memory as a whole.
	{name: "import", turn: "import", holds: 128, statement: time.Minute, retry: 10 * time.Second},
	// A thousand records of sources are written one by one, some of them in each
	// expensive turn, so that its own institution's readers do not wait for all of them.
	{name: "sources", turn: "sources", holds: 64, each: 64, statement: 10 * time.Second, retry: 5 * time.Second},
	// A stream waits nearly always, and reads each page in an expensive turn. How many
	// are open at once is Streams.Most; what they hold while they wait comes
	// out of the memory that requests do not get.
	{name: "stream", turn: "stream", holds: 0, statement: 10 * time.Second, retry: 10 * time.Second},
})

func named(list []work) map[string]*work {
	all := map[string]*work{}
	for _, w := range list {
		all[w.name] = &w
	}
	return all
}

// large tells whether a few requests of this class take most of the memory.
func (w *work) large() bool { return w.holds >= 32 }

// turns are how many requests are at work at once: own for one institution, or without a
// key for one address; all for all callers. They are in processors of this process
// (GOMAXPROCS), and at least 1. Of the connections to the database (postgres.Connections)
// expensive work and imports hold at most half for long: where there are few, they have
// fewer turns (admission.times).
var turns = map[string]struct{ own, all float64 }{
	"page":    {2, 16},
	"compute": {0.5, 2},
	"light":   {1, 8},
	// Half of the processors: a caller of nothing but expensive work leaves the rest to
	// the others. An export or an import takes such a turn for each page or chunk, and
	// not while it waits for the other side.
	"expensive": {0.5, 2},
	// Most of a write's time is the database's disk, so that there are more turns.
	"write":   {2, 16},
	"export":  {0.5, 8},
	"import":  {0.5, 2},
	"sources": {0.5, 2},
	// The streams of one institution may be half of them (streamShare).
	"stream": {500, 1000},
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

// times is a number of processors.
func times(each float64, processors int) int64 { return max(1, int64(each*float64(processors))) }
