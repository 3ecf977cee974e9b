package postgres

import (
	"context"
	"slices"
	"sync"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
)

// Premises are what a request takes from this process's memory, and would else have asked of
// the database: whose its key is, what materials the institution has. The first batch that
// the request sends asks first whether they hold, in the same transaction. If one does not,
// that batch fails and does nothing, and the request is to begin anew without memory.
type Premises struct {
	institution uuid.UUID

	mu     sync.Mutex
	asked  []premise
	sent   bool // a batch has asked, or is asking
	held   bool
	broken bool
}

// premise is a query that fails with premiseBroken unless something is as it is remembered.
type premise struct {
	sql  string
	args []any
}

// premiseBroken is the SQLSTATE of the function premise_broken.
const premiseBroken = "MN001"

// holding makes a premise of a condition.
func holding(condition string, args ...any) premise {
	return premise{`select case when ` + condition + ` then true else premise_broken() end`, args}
}

type premisesKey struct{}

// Relying is a context whose first batch of the institution asks whether the premises hold.
// Without premises, what is remembered is asked for before it is used.
func Relying(ctx context.Context, p *Premises) context.Context {
	return context.WithValue(ctx, premisesKey{}, p)
}

func premisesOf(ctx context.Context) *Premises {
	p, _ := ctx.Value(premisesKey{}).(*Premises)
	return p
}

// rely adds a premise, unless it is too late: a later batch would fail after an earlier one
// had written.
func (p *Premises) rely(institution uuid.UUID, on premise) bool {
	if p == nil || p.institution != institution {
		return false
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.sent {
		return false
	}
	p.asked = append(p.asked, on)
	return true
}

// ask has a batch ask for the premises after its tenant is set, unless they are known to hold.
func (p *Premises) ask(b *batch) {
	if p == nil || p.institution != b.institution {
		return
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.held {
		return
	}
	p.sent = true
	var queries pgx.Batch
	for i, on := range p.asked {
		queries.Queue(on.sql, on.args...).Query(func(rows pgx.Rows) error { return p.heard(rows, i == len(p.asked)-1) })
	}
	b.QueuedQueries = slices.Insert(b.QueuedQueries, 1, queries.QueuedQueries...)
}

// heard reads the answer about one premise, which may be the last.
func (p *Premises) heard(rows pgx.Rows, last bool) error {
	for rows.Next() {
	}
	err := rows.Err()
	_, broken := violated(err, premiseBroken)
	p.mu.Lock()
	defer p.mu.Unlock()
	p.broken = p.broken || broken
	p.held = p.held || err == nil && last && !p.broken
	return err
}

// PremisesHold tells whether the premises hold, and asks if no batch has heard. Without premises
// there is nothing that may not hold.
func (s *Store) PremisesHold(ctx context.Context, p *Premises) (bool, error) {
	if p == nil {
		return true, nil
	}
	if held, broken := p.known(); held || broken {
		return held, nil
	}
	err := s.run(Relying(ctx, p), newBatch(p.institution))
	held, broken := p.known()
	if broken {
		err = nil
	}
	return held, err
}

func (p *Premises) known() (held, broken bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.held && !p.broken, p.broken
}

// Remembered keeps what was read of the database, at most so many things. What is taken from it is
// a premise.
type Remembered[K comparable, V any] struct {
	most int
	mu   sync.Mutex
	of   map[K]V
}

// Remember makes an empty memory.
func Remember[K comparable, V any](most int) *Remembered[K, V] {
	return &Remembered[K, V]{most: most, of: map[K]V{}}
}

// Of gives what is remembered of k.
func (r *Remembered[K, V]) Of(k K) (v V, known bool) {
	r.mu.Lock()
	defer r.mu.Unlock()
	v, known = r.of[k]
	return v, known
}

// Put remembers v of k, and forgets something else if there is too much.
func (r *Remembered[K, V]) Put(k K, v V) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if _, known := r.of[k]; !known && len(r.of) >= r.most {
		for other := range r.of {
			delete(r.of, other)
			break
		}
	}
	r.of[k] = v
}

// Forget forgets what is remembered of k.
func (r *Remembered[K, V]) Forget(k K) {
	r.mu.Lock()
	defer r.mu.Unlock()
	delete(r.of, k)
}
