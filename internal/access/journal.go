package access

import (
	"sync"
	"time"

	"github.com/google/uuid"
)

// What is a kind of access that is kept on record.
type What string

// The kinds of access.
const (
	DidRead        What = "read"
	DidChange      What = "change"
	KeyMade        What = "key-made"
	KeyReplaced    What = "key-replaced"
	KeyRevoked     What = "key-revoked"
	RefusedExpired What = "refused-expired" // the key was right, and its time is over
	RefusedRevoked What = "refused-revoked" // the key was right, and was revoked
	RefusedScope   What = "refused-scope"
	NotKept        What = "not-kept" // so many accesses could not be put on record
)

// Access is one line of the access log. It has no names and nothing of what was sent.
type Access struct {
	ID     uuid.UUID // UUIDv7: when it was; made when it is put on record, if zero
	What   What
	Times  int       // how often since the line before
	Key    uuid.UUID // zero if none, and so are those below
	Person uuid.UUID
	Record uuid.UUID // the record or key that it was done to

	// Of what was read or changed:
	Operation string
	Status    int    // of the answer; 0 if its caller had left
	Sort      string // of the record, as its address has it: specimens
}

// At is when it was, to the millisecond.
func (a Access) At() time.Time {
	sec, nsec := a.ID.Time().UnixTime()
	return time.Unix(sec, nsec).UTC().Truncate(time.Millisecond)
}

// Page is what a journal has for an institution, to be put on record.
type Page struct {
	Institution uuid.UUID
	Accesses    []Access
	Used        map[uuid.UUID]time.Time // keys, with when they were last used
}

const (
	// UseStep is how coarse the last use of a key is told; that it was used is written once in this
	// time at most by each process.
	UseStep = 10 * time.Minute
	// refusalStep is how often refusals of a key for one reason come on record at most.
	refusalStep = time.Hour
	// mostOfJournal is how much of a kind a journal holds.
	mostOfJournal = 10_000
)

// Journal gathers accesses in memory, off the path of the requests, until they are put on record.
// What it holds is bounded; what there is no room for it counts.
type Journal struct {
	now  func() time.Time
	most int

	mu       sync.Mutex
	used     map[held]*use
	refusals map[refused]*refusal
	lost     map[uuid.UUID]int
	done     map[done]Access // what was read and changed
}

// done is what was done; the same that a caller reads again and again is one line.
type done struct {
	institution uuid.UUID
	Access      // without its id and how often
	change      uuid.UUID
}

// held is a key of an institution: two institutions may have keys of the same id.
type held struct{ institution, key uuid.UUID }

type use struct {
	at      time.Time // rounded down to UseStep
	written bool
}

type refused struct {
	held
	person uuid.UUID
	what   What
}

type refusal struct {
	times int       // since the last line
	quiet time.Time // until then no line is written
}

// NewJournal makes an empty journal.
func NewJournal(now func() time.Time) *Journal {
	return &Journal{now: now, most: mostOfJournal, used: map[held]*use{}, refusals: map[refused]*refusal{},
		lost: map[uuid.UUID]int{}, done: map[done]Access{}}
}

// Used notes that a key opened something.
func (j *Journal) Used(institution, key uuid.UUID) {
	at := j.now().UTC().Truncate(UseStep)
	of := held{institution, key}
	j.mu.Lock()
	defer j.mu.Unlock()
	u := j.used[of]
	if u == nil {
		if len(j.used) >= j.most {
			for other := range j.used {
				delete(j.used, other)
				break
			}
		}
		u = &use{}
		j.used[of] = u
	}
	if at.After(u.at) {
		*u = use{at: at}
	}
}

// Refused notes that a key of the institution opened nothing, and why.
func (j *Journal) Refused(institution uuid.UUID, a Access) {
	of := refused{held{institution, a.Key}, a.Person, a.What}
	j.mu.Lock()
	defer j.mu.Unlock()
	r := j.refusal(of)
	if r == nil {
		j.lose(institution, 1)
		return
	}
	r.times++
}

// Did notes what was read or changed. Each change is a line of its own.
func (j *Journal) Did(institution uuid.UUID, a Access) {
	of := done{institution: institution, Access: a}
	of.ID, of.Times = uuid.Nil, 0
	if a.What == DidChange {
		of.change = a.ID
	}
	j.mu.Lock()
	defer j.mu.Unlock()
	known, again := j.done[of]
	switch {
	case again:
		known.Times += a.Times
		j.done[of] = known
	case len(j.done) >= j.most:
		j.lose(institution, a.Times)
	default:
		j.done[of] = a
	}
}

// lose counts what there is no room for.
func (j *Journal) lose(institution uuid.UUID, times int) {
	if _, known := j.lost[institution]; !known && len(j.lost) >= j.most {
		institution = uuid.Nil // counted, and of no institution's record
	}
	j.lost[institution] += times
}

// Take gives what is to be put on record now, by institution; in the end (last) also what would
// wait. Whoever cannot write a page gives it back.
func (j *Journal) Take(last bool) []Page {
	now := j.now()
	j.mu.Lock()
	defer j.mu.Unlock()
	pages := pages{}
	for of, u := range j.used {
		switch {
		case !u.written:
			pages.of(of.institution).Used[of.key] = u.at
			u.written = true
		case now.Sub(u.at) > 2*UseStep:
			delete(j.used, of)
		}
	}
	for of, r := range j.refusals {
		switch over := !now.Before(r.quiet); {
		case r.times > 0 && (over || last):
			pages.add(of.institution, Access{What: of.what, Times: r.times, Key: of.key, Person: of.person})
			*r = refusal{quiet: now.Add(refusalStep)}
		case over:
			delete(j.refusals, of)
		}
	}
	for of, a := range j.done {
		pages.add(of.institution, a)
	}
	clear(j.done)
	for institution, times := range j.lost {
		if institution != uuid.Nil {
			pages.add(institution, Access{What: NotKept, Times: times})
			delete(j.lost, institution)
		}
	}
	list := make([]Page, 0, len(pages))
	for _, p := range pages {
		list = append(list, *p)
	}
	return list
}

// GiveBack returns a page that could not be written; it is counted as lost where there is no
// room.
func (j *Journal) GiveBack(p Page) {
	for _, a := range p.Accesses {
		switch a.What {
		case DidRead, DidChange:
			j.Did(p.Institution, a)
		case NotKept:
			j.mu.Lock()
			j.lose(p.Institution, a.Times)
			j.mu.Unlock()
		default:
			j.again(p.Institution, a)
		}
	}
	j.mu.Lock()
	defer j.mu.Unlock()
	for key := range p.Used {
		if u := j.used[held{p.Institution, key}]; u != nil {
			u.written = false
		}
	}
}

// again counts refusals once more, to be written at the next moment.
func (j *Journal) again(institution uuid.UUID, a Access) {
	of := refused{held{institution, a.Key}, a.Person, a.What}
	j.mu.Lock()
	defer j.mu.Unlock()
	r := j.refusal(of)
	if r == nil {
		j.lose(institution, a.Times)
		return
	}
	r.times, r.quiet = r.times+a.Times, time.Time{}
}

// refusal is where refusals of one sort are counted; nil where there is room for no more sorts.
func (j *Journal) refusal(of refused) *refusal {
	r := j.refusals[of]
	if r == nil && len(j.refusals) < j.most {
		r = &refusal{}
		j.refusals[of] = r
	}
	return r
}

// pages are what is taken, by institution.
type pages map[uuid.UUID]*Page

func (p pages) of(institution uuid.UUID) *Page {
	if p[institution] == nil {
		p[institution] = &Page{Institution: institution, Used: map[uuid.UUID]time.Time{}}
	}
	return p[institution]
}

func (p pages) add(institution uuid.UUID, a Access) {
	page := p.of(institution)
	page.Accesses = append(page.Accesses, a)
}
