package localpg

import (
	"context"
	"fmt"
	"io"
	"os"
	"os/exec"
	"runtime"
	"strings"
	"syscall"
	"time"

	"github.com/jackc/pgx/v5"
)

// process is the postmaster as a child of this process.
type process struct {
	cmd  *exec.Cmd
	done chan struct{} // closed after the child and all its sessions have ended
}

func (p *process) pid() int { return p.cmd.Process.Pid }

// launch starts the postmaster and waits until it answers. Straight after a crash the
// dead server's sessions may hold its shared memory for a moment, so that this one
// error is retried.
func launch(ctx context.Context, pl place, bin binDir, args []string) (*process, error) {
	ctx, cancel := context.WithTimeout(ctx, startLimit)
	defer cancel()
	for {
		p, err := spawn(pl, bin, args)
		if err != nil {
			return nil, err
		}
		err = p.awaitReady(ctx, pl)
		if err == nil {
			return p, nil
		}
		_ = p.stop(ctx)
		if !strings.Contains(err.Error(), stillInUse) || pause(ctx) != nil {
			return nil, err
		}
	}
}

const stillInUse = "is still in use" // "pre-existing shared memory block (…) is still in use"

// spawn starts the child from a goroutine that keeps its thread until the child
// has ended: the kernel sends the parent-death signal when the *thread* that
// started the child ends, not when the process does.
func spawn(pl place, bin binDir, args []string) (*process, error) {
	log, err := os.OpenFile(pl.logFile(), os.O_CREATE|os.O_WRONLY|os.O_TRUNC|os.O_APPEND, 0o600)
	if err != nil {
		return nil, fmt.Errorf("opening the server's log: %w", err)
	}
	defer log.Close()
	if err := pl.who.own(pl.logFile()); err != nil {
		return nil, fmt.Errorf("handing over the server's log: %w", err)
	}
	cmd := pl.command(context.Background(), bin.tool("postgres"), args...)
	cmd.Dir = pl.dataDir()
	cmd.Stdout, cmd.Stderr = log, log
	endWithParent(cmd.SysProcAttr)
	// The child's sessions inherit the writing end of this pipe, so that it ends
	// with the last of them: one that outlives a killed child could still commit.
	lifeline, held, err := os.Pipe()
	if err != nil {
		return nil, fmt.Errorf("making the server's lifeline: %w", err)
	}
	defer held.Close()
	cmd.ExtraFiles = []*os.File{held}

	p := &process{cmd: cmd, done: make(chan struct{})}
	started := make(chan error, 1)
	go func() {
		runtime.LockOSThread()
		defer runtime.UnlockOSThread()
		err := cmd.Start()
		started <- err
		if err == nil {
			_ = cmd.Wait()
			_, _ = io.Copy(io.Discard, lifeline) // nothing is ever written
		}
		_ = lifeline.Close()
		close(p.done)
	}()
	if err := <-started; err != nil {
		return nil, fmt.Errorf("starting postgres: %w", err)
	}
	return p, nil
}

func (p *process) awaitReady(ctx context.Context, pl place) error {
	for {
		if _, err := askDataDir(ctx, pl); err == nil {
			return nil
		}
		select {
		case <-p.done:
			return fmt.Errorf("postgres ended at its start: %s", logCause(pl))
		case <-ctx.Done():
			return fmt.Errorf("waiting for postgres: %w: %s", ctx.Err(), logCause(pl))
		case <-time.After(pollInterval):
		}
	}
}

// stop requests a fast shutdown (SIGINT) and waits for its end.
func (p *process) stop(ctx context.Context) error {
	if ctx.Err() == nil {
		_ = p.cmd.Process.Signal(syscall.SIGINT)
	}
	select {
	case <-p.done:
		return nil
	case <-ctx.Done():
		_ = p.cmd.Process.Kill()
		<-p.done
		return ctx.Err()
	}
}

const pollInterval = 20 * time.Millisecond

func pause(ctx context.Context) error {
	select {
	case <-ctx.Done():
		return ctx.Err()
	case <-time.After(10 * pollInterval):
		return nil
	}
}

// askDataDir connects and asks the server which folder it serves.
func askDataDir(ctx context.Context, pl place) (string, error) {
	ctx, cancel := context.WithTimeout(ctx, 5*time.Second)
	defer cancel()
	conn, err := pgx.Connect(ctx, pl.dsn(Superuser, "postgres"))
	if err != nil {
		return "", err
	}
	defer conn.Close(context.WithoutCancel(ctx))
	var dir string
	err = conn.QueryRow(ctx, "show data_directory").Scan(&dir)
	return dir, err
}

// logCause is the line of the server's log that names the cause.
func logCause(pl place) string {
	text, err := os.ReadFile(pl.logFile())
	if err != nil {
		return "its log cannot be read"
	}
	return cause(text)
}
