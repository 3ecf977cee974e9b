package running

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"syscall"
	"time"
)

// A disk of the database's own is this large, so that it can be filled.
const diskSize = 512 << 20

// StartOnDisk is Start with the database on a disk of its own, which FillDisk fills. It takes a
// user who may mount one.
func StartOnDisk(ctx context.Context, program string, settings ...string) (*Service, error) {
	s := &Service{Instance: &Instance{program: program}}
	err := s.prepare(ctx, func() error {
		s.disk = filepath.Join(s.folder, "disk")
		if err := os.Mkdir(s.disk, 0o755); err != nil {
			return err
		}
		if err := syscall.Mount("tmpfs", s.disk, "tmpfs", 0, fmt.Sprintf("size=%d,mode=755", diskSize)); err != nil {
			return fmt.Errorf("mounting a disk, which takes root: %w", err)
		}
		return s.StartDatabase(ctx)
	})
	if err == nil {
		err = s.serve(func(role string) string { return s.dsn(role, database) }, settings)
	}
	return s.orStopped(err)
}

// ballast is the file that takes the rest of the disk.
func (s *Service) ballast() string { return filepath.Join(s.disk, "ballast") }

// FillDisk leaves no room on the database's disk for some time, and starts the database again
// where that ended it.
func (s *Service) FillDisk(ctx context.Context, full time.Duration) error {
	if err := s.fill(); err != nil {
		return err
	}
	select {
	case <-ctx.Done():
	case <-time.After(full):
	}
	if err := os.Remove(s.ballast()); err != nil {
		return err
	}
	select {
	case <-s.pg.Done():
		s.CrashDatabase() // lets go of what is left of it
		return s.StartDatabase(ctx)
	default:
		return ctx.Err()
	}
}

// fill writes until nothing more fits.
func (s *Service) fill() (err error) {
	f, err := os.Create(s.ballast())
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	for _, size := range []int{1 << 20, 1 << 12} {
		for piece := make([]byte, size); err == nil; {
			_, err = f.Write(piece)
		}
		if !errors.Is(err, syscall.ENOSPC) {
			return err
		}
		err = nil
	}
	return nil
}
