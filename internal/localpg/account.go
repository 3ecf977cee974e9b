package localpg

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"strconv"
	"syscall"
)

// account is the user that the server runs as. Postgres refuses to run as root.
type account struct {
	uid, gid uint32
	switches bool // the caller is root, so the server's processes change user
}

// nobody is the conventional unprivileged id, for machines without a user
// database.
const nobody = 65534

// runAs is the caller or, for root, the owner of an existing folder, else the user
// postgres, else the user nobody.
func runAs(dir string) (account, error) {
	if euid := os.Geteuid(); euid != 0 {
		return account{uid: uint32(euid), gid: uint32(os.Getegid())}, nil
	}
	if owner, ok := ownerOf(dir); ok {
		return owner, nil
	}
	for _, name := range []string{"postgres", "nobody"} {
		if found, ok := lookup(name); ok {
			return found, nil
		}
	}
	return account{uid: nobody, gid: nobody, switches: true}, nil
}

func ownerOf(dir string) (account, bool) {
	var st syscall.Stat_t
	if dir == "" || syscall.Stat(dir, &st) != nil || st.Uid == 0 {
		return account{}, false
	}
	return account{uid: st.Uid, gid: st.Gid, switches: true}, true
}

func lookup(name string) (account, bool) {
	u, err := user.Lookup(name)
	if err != nil {
		return account{}, false
	}
	uid, errUID := strconv.ParseUint(u.Uid, 10, 32)
	gid, errGID := strconv.ParseUint(u.Gid, 10, 32)
	return account{uid: uint32(uid), gid: uint32(gid), switches: true}, errUID == nil && errGID == nil && uid != 0
}

func (a account) own(path string) error {
	if !a.switches {
		return nil
	}
	return os.Chown(path, int(a.uid), int(a.gid))
}

func (a account) owns(path string) bool {
	var st syscall.Stat_t
	return syscall.Lstat(path, &st) == nil && st.Uid == a.uid
}

// reach checks that the user can enter every folder above dir; the server's own error
// names neither the folder nor the remedy.
func (a account) reach(dir string) error {
	if !a.switches {
		return nil
	}
	for up := filepath.Dir(dir); ; up = filepath.Dir(up) {
		var st syscall.Stat_t
		if err := syscall.Stat(up, &st); err != nil {
			return fmt.Errorf("looking at %s: %w", up, err)
		}
		if !a.mayEnter(st) {
			return fmt.Errorf("the database cannot live in %s: it runs as user %d, who may not enter %s; choose a "+
				"folder outside it", dir, a.uid, up)
		}
		if up == filepath.Dir(up) {
			return nil
		}
	}
}

func (a account) mayEnter(st syscall.Stat_t) bool {
	switch {
	case st.Uid == a.uid:
		return st.Mode&0o100 != 0
	case st.Gid == a.gid:
		return st.Mode&0o010 != 0
	}
	return st.Mode&0o001 != 0
}

// command runs a Postgres program as the cluster's user, in the cluster's folder,
// without the caller's environment and terminal.
func (pl place) command(ctx context.Context, path string, args ...string) *exec.Cmd {
	cmd := exec.CommandContext(ctx, path, args...)
	cmd.Dir = pl.dir
	cmd.Env = append([]string{"PATH=/usr/bin:/bin", "LC_ALL=C", "TZ=UTC"}, pl.env...)
	cmd.SysProcAttr = pl.who.attributes()
	return cmd
}

// attributes are what every child needs: its own process group, so that Ctrl-C
// reaches the service first and the database last, and the unprivileged user.
func (a account) attributes() *syscall.SysProcAttr {
	attr := &syscall.SysProcAttr{Setpgid: true}
	if a.switches {
		attr.Credential = &syscall.Credential{Uid: a.uid, Gid: a.gid}
	}
	return attr
}
