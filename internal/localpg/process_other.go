//go:build !linux

package localpg

import "syscall"

// endWithParent does nothing: only Linux signals a child when its parent ends.
// An orphan is found and stopped at the next start.
func endWithParent(*syscall.SysProcAttr) {}
