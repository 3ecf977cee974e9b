package pgtest

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/url"
	"os"
	"time"

	_ "github.com/jackc/pgx/v5/stdlib" // the driver that the wait strategy below names
	"github.com/moby/moby/api/types/network"
	"github.com/testcontainers/testcontainers-go"
	"github.com/testcontainers/testcontainers-go/log"
	"github.com/testcontainers/testcontainers-go/wait"
)

// stockImage is used when the environment names no other.
const stockImage = "postgres:17-alpine"

// How long a container engine may take to answer: one that may be missing, and one that
// must be there because an image was named.
const (
	guessedLimit = 2 * time.Second
	namedLimit   = time.Minute
)

// pullLimit is how long pulling an image may take.
const pullLimit = 2 * time.Minute

// container starts a server from an image. Main stops it, so the helper
// container that would otherwise clean up (and would have to be pulled) stays
// off unless the environment asks for it.
func container(ctx context.Context, image string, answerIn time.Duration) (*server, error) {
	if os.Getenv("TESTCONTAINERS_RYUK_DISABLED") == "" {
		if err := os.Setenv("TESTCONTAINERS_RYUK_DISABLED", "true"); err != nil {
			return nil, err
		}
	}
	if err := imageReady(ctx, image, answerIn); err != nil {
		return nil, err
	}
	c, err := testcontainers.Run(ctx, image,
		testcontainers.WithExposedPorts(port),
		testcontainers.WithEnv(map[string]string{"POSTGRES_PASSWORD": password}),
		testcontainers.WithCmd("postgres", "-c", "fsync=off", "-c", "full_page_writes=off", "-c", "max_connections=200"),
		testcontainers.WithWaitStrategy(wait.ForSQL(port, "pgx", func(host string, p network.Port) string {
			return address(net.JoinHostPort(host, p.Port())).String()
		}).WithStartupTimeout(time.Minute)))
	if err != nil {
		return nil, errors.Join(fmt.Errorf("running a container of %s: %w", image, err), testcontainers.TerminateContainer(c))
	}
	endpoint, err := c.PortEndpoint(ctx, port, "")
	if err != nil {
		return nil, errors.Join(err, testcontainers.TerminateContainer(c))
	}
	return &server{
		what:  "a container of " + image,
		admin: *address(endpoint),
		stop: func(ctx context.Context) error {
			return testcontainers.TerminateContainer(c, testcontainers.StopContext(ctx), testcontainers.StopTimeout(0))
		},
	}, nil
}

const port = "5432/tcp"

func address(endpoint string) *url.URL {
	return &url.URL{Scheme: "postgres", User: url.UserPassword("postgres", password), Host: endpoint,
		Path: "/postgres", RawQuery: "sslmode=disable"}
}

// imageReady returns nil when an engine answers and has or can pull the image.
func imageReady(ctx context.Context, image string, answerIn time.Duration) error {
	engine, err := reachEngine(answerIn)
	if err != nil {
		return err
	}
	defer engine.Close()
	if _, err := engine.Client().ImageInspect(ctx, image); err == nil {
		return nil
	}
	ctx, cancel := context.WithTimeout(ctx, pullLimit)
	defer cancel()
	if err := engine.PullImage(ctx, image); err != nil {
		return fmt.Errorf("pulling %s: %w", image, err)
	}
	return nil
}

// reachEngine gives up on an engine that does not answer in time; the attempt
// itself takes no context.
func reachEngine(answerIn time.Duration) (*testcontainers.DockerProvider, error) {
	type answer struct {
		engine *testcontainers.DockerProvider
		err    error
	}
	answered := make(chan answer, 1)
	go func() {
		engine, err := testcontainers.NewDockerProvider(testcontainers.WithLogger(log.NewNoopLogger()))
		answered <- answer{engine, err}
	}()
	select {
	case a := <-answered:
		if a.err != nil {
			return nil, fmt.Errorf("no container engine answers: %w", a.err)
		}
		return a.engine, nil
	case <-time.After(answerIn):
		return nil, fmt.Errorf("no container engine answered within %s", answerIn)
	}
}
