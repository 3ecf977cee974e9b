package localpg

import (
	"errors"
	"os"
	"syscall"
)

// takeLock takes the cluster's lock, which the kernel releases when this process ends,
// however it ends.
func takeLock(pl place) (*os.File, error) {
	f, err := openLock(pl.lockFile(), os.O_RDWR|os.O_CREATE)
	if err != nil {
		return nil, err
	}
	return f, pl.who.own(pl.lockFile())
}

func openLock(path string, flag int) (*os.File, error) {
	f, err := os.OpenFile(path, flag, 0o600)
	if err != nil {
		return nil, err
	}
	if err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err != nil {
		_ = f.Close()
		if errors.Is(err, syscall.EWOULDBLOCK) {
			return nil, errInUse
		}
		return nil, err
	}
	return f, nil
}

// unlock releases the lock. Closing the file is not enough: a child that is just being
// started shares it until its program is loaded.
func unlock(f *os.File) {
	_ = syscall.Flock(int(f.Fd()), syscall.LOCK_UN)
	_ = f.Close()
}
