// Command faults kills the service and its database at random moments while callers write, and
// then judges what is on record: nothing that was acknowledged may be lost or be there twice, the
// feed has no gap, webhooks tell of every entry and mark what they repeat, and verify finds
// nothing wrong.
//
//	go run ./deploy/faults -kills 200                a server of Postgres
//	go run ./deploy/faults -kills 200 -on pooler     pgbouncer in transaction mode before it, which is killed too
//	go run ./deploy/faults -kills 200 -on cluster    two servers that Patroni and etcd manage
//	go run ./deploy/faults -kills 20 -on disk        its disk is filled, as root
//	go run ./deploy/faults -kills 20 -on clock       its clock steps back by an hour, with faketime
//
// Two instances share one database. Every request is sent again until it is answered, as a
// catalogue would. It ends with 1 where something is not so.
package main

import (
	"context"
	"flag"
	"fmt"
	"log"
	"math/rand/v2"
	"os"
	"os/signal"
	"time"

	"github.com/google/uuid"

	"meniscus/deploy/running"
	"meniscus/internal/postgres"
)

func main() {
	kills := flag.Int("kills", 10, "how often a process is killed")
	callers := flag.Int("callers", 8, "how many write at once")
	seed := flag.Uint64("seed", uint64(time.Now().UnixNano()), "of the moments and the victims")
	program := flag.String("program", "", "the program; built from this tree if empty")
	on := flag.String("on", "server", "what the database is: server, pooler, cluster, disk or clock")
	flag.Parse()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	start := map[string]starting{"server": running.Start, "pooler": running.StartPooled, "cluster": running.StartClustered,
		"disk": running.StartOnDisk, "clock": running.Start}[*on]
	if start == nil {
		log.Fatalf("faults: -on %s is none of server, pooler, cluster, disk and clock", *on)
	}
	faults, err := run(ctx, start, *on, *program, *kills, *callers, *seed)
	if err != nil {
		log.Fatalf("faults: %v", err)
	}
	for _, fault := range faults {
		fmt.Println("not so:", fault)
	}
	if len(faults) > 0 {
		stop()
		os.Exit(1) //nolint:gocritic // the signals are let go of
	}
}

// starting is how the service is started.
type starting func(ctx context.Context, program string, settings ...string) (*running.Service, error)

func run(ctx context.Context, start starting, on, program string, kills, callers int, seed uint64,
) (faults []string, err error) {
	hooks, err := listen()
	if err != nil {
		return nil, err
	}
	s, err := start(ctx, program, "MENISCUS_RATE_LIMIT=off", "MENISCUS_WEBHOOK_ALLOW_PRIVATE=127.0.0.0/8",
		"MENISCUS_SECRET_KEY=AAECAwQFBgcICQoLDA0ODxAREhMUFRYXGBkaGxwdHh8=")
	if err != nil {
		return nil, err
	}
	defer func() { _ = s.Stop() }() // it was killed before; what matters is judged
	other, err := s.Another()
	if err != nil {
		return nil, err
	}
	key, err := s.Found(ctx, postgres.Founding{Institution: uuid.Must(uuid.NewV7()), Name: "Museum of the Lower Valley",
		Person: "Ilse Varga"})
	if err != nil {
		return nil, err
	}
	w := &writers{key: key.Text(), kept: map[string]kept{}}
	w.at(0, s.Address)
	w.at(1, other.Address)
	if err := w.subscribe(ctx, hooks.url); err != nil {
		return nil, err
	}
	fmt.Printf("faults: %d callers, %d kills, seed %d\n", callers, kills, seed)
	wait := w.start(ctx, callers)
	killed, err := kill(ctx, s, on, []*running.Instance{s.Instance, other}, w, kills, rand.New(rand.NewPCG(seed, 0)))
	wait()
	if err != nil {
		return nil, err
	}
	faults, err = w.judge(ctx, s, on, hooks)
	fmt.Printf("faults: killed: %d times a service, %d times the database, %d times the pooler; "+
		"%d records acknowledged, %d requests sent again, %d refused, "+
		"%d entries, %d webhooks of which %d repeat one; %d not so\n", killed[0], killed[1], killed[2], len(w.kept),
		w.again.Load(), w.refused.Load(),
		w.entries, hooks.got.Load(), hooks.got.Load()-int64(len(hooks.ids)), len(faults))
	return append(faults, w.faults...), err
}

// kill kills a process after another, each at a random moment, and starts it again.
func kill(ctx context.Context, s *running.Service, on string, instances []*running.Instance, w *writers, kills int,
	random *rand.Rand) (killed [3]int, err error) {
	victims := 3
	if on == "pooler" {
		victims = 4
	}
	for range kills {
		if err := sleep(ctx, time.Duration(50+random.IntN(700))*time.Millisecond); err != nil {
			return killed, err
		}
		switch victim := random.IntN(victims); victim {
		case 3:
			killed[2]++
			s.KillPooler()
			err = s.StartPooler(ctx)
		case 2:
			killed[1]++
			err = breakDatabase(ctx, s, on, killed[1])
		default:
			killed[0]++
			instances[victim].Kill("killed")
			err = instances[victim].Restart()
			w.at(victim, instances[victim].Address)
		}
		if err != nil {
			return killed, err
		}
	}
	return killed, sleep(ctx, time.Second)
}

// breakDatabase breaks the database for the nth time, and mends it.
func breakDatabase(ctx context.Context, s *running.Service, on string, n int) error {
	switch on {
	case "cluster": // its leader, and each second time the whole machine
		return s.Failover(ctx, n%2 == 0)
	case "disk":
		return s.FillDisk(ctx, 2*time.Second)
	case "clock": // there and back
		s.CrashDatabase()
		return s.StartDatabaseAt(ctx, []string{"-1h", ""}[(n-1)%2])
	}
	s.CrashDatabase()
	return s.StartDatabase(ctx)
}

func sleep(ctx context.Context, d time.Duration) error {
	select {
	case <-ctx.Done():
		return ctx.Err()
	case <-time.After(d):
		return nil
	}
}
