package main

import (
	"context"
	"errors"

	"github.com/google/uuid"

	"meniscus/deploy/bench/caller"
	"meniscus/deploy/running"
	"meniscus/internal/postgres"
)

// stage is a service with two institutions.
type stage struct {
	*running.Service
	steady, greedy caller.Client
}

// start starts the service and makes the museums.
func start(ctx context.Context, program string) (*stage, error) {
	s, err := running.Start(ctx, program)
	if err != nil {
		return nil, err
	}
	st := &stage{Service: s}
	for name, into := range map[string]*caller.Client{"Museum of the Lower Valley": &st.steady,
		"Museum on the Hill": &st.greedy} {
		key, err := s.Found(ctx, postgres.Founding{Institution: uuid.Must(uuid.NewV7()), Name: name, Person: "Ilse Varga"})
		if err != nil {
			return nil, errors.Join(err, s.Stop())
		}
		*into = caller.New("http://"+s.Address, key.Text())
	}
	return st, nil
}
