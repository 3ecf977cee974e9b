package localpg

import "syscall"

// endWithParent makes the kernel send a fast-shutdown signal when the parent ends,
// however it ends.
func endWithParent(attr *syscall.SysProcAttr) { attr.Pdeathsig = syscall.SIGINT }
