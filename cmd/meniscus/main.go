// Command meniscus serves the record of conservation treatments over HTTP.
//
//	meniscus demo      the whole service on a private Postgres, with an invented museum
//	meniscus serve     the service on MENISCUS_DATABASE_URL
//	meniscus migrate   bring the database's schema up to date, as its owner
//	meniscus roles     make the application's and the worker's roles, as the owner
//	meniscus found     make an institution with its first person and key, as the owner
//	meniscus key       make an access key
//	meniscus seasons   say whose seasons an institution means, as the owner
//	meniscus import    send a file of old treatment cards to a running service
//	meniscus export    write everything that an institution recorded to a file
//	meniscus restore   make an empty institution's record from such a file
//	meniscus verify    compare everything that is kept with the facts
//	meniscus version   say which program this is
//
// The exit code is 0 for success, 1 after a failure or when verify found a difference,
// 2 when the command line cannot be understood, and 3 when verify found no difference
// but could not compare everything.
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"os/signal"
	"slices"
	"strings"
	"syscall"
)

// verb is a subcommand. It writes for people on out and errs, and ends when the context
// does.
type verb struct {
	what string
	run  func(ctx context.Context, args []string, out, errs io.Writer) error
}

var verbs = map[string]verb{
	"demo":    {"the whole service on a private Postgres, with an invented museum", demo},
	"serve":   {"the service on MENISCUS_DATABASE_URL", serve},
	"migrate": {"bring the database's schema up to date, as its owner", migrate},
	"roles":   {"make the application's and the worker's roles, as the owner", roles},
	"found":   {"make an institution with its first person and key, as the owner", found},
	"import":  {"send a file of old treatment cards to a running service", importCards},
	"export":  {"write everything that an institution recorded to a file", exportFile},
	"restore": {"make an empty institution's record from such a file", restoreFile},
	"key":     {"make an access key: key create", key},
	"seasons": {"say whose seasons an institution means, as the owner", seasons},
	"version": {"say which program this is", showVersion},
	"verify":  {"compare everything that is kept with the facts that it was made from; ends with 3 if not all could be compared", verify},
}

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	err := run(ctx, os.Args[1:], os.Stdout, os.Stderr)
	switch {
	case err == nil, errors.Is(err, flag.ErrHelp):
	case errors.Is(err, errUsage):
		fmt.Fprintln(os.Stderr, err)
	default:
		fmt.Fprintln(os.Stderr, "meniscus:", err)
	}
	stop()
	os.Exit(exitCode(err))
}

// exitCode is the command's exit code.
func exitCode(err error) int {
	switch {
	case err == nil, errors.Is(err, flag.ErrHelp):
		return 0
	case errors.Is(err, errUsage):
		return 2
	case errors.Is(err, errNotCompared):
		return 3
	}
	return 1
}

// errUsage says that the command line cannot be understood.
var errUsage = errors.New("usage")

func run(ctx context.Context, args []string, out, errs io.Writer) error {
	if len(args) == 0 {
		return fmt.Errorf("%w: meniscus VERB\n%s", errUsage, listVerbs())
	}
	v, ok := verbs[args[0]]
	if !ok {
		return fmt.Errorf("%w: there is no verb %q\n%s", errUsage, args[0], listVerbs())
	}
	return v.run(ctx, args[1:], out, errs)
}

func listVerbs() string {
	var names []string
	for name := range verbs {
		names = append(names, name)
	}
	slices.Sort(names)
	var b strings.Builder
	for _, name := range names {
		fmt.Fprintf(&b, "  %-8s %s\n", name, verbs[name].what)
	}
	return b.String()
}
