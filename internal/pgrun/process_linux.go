package pgrun

import (
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
)

// dieWithParent asks the kernel to send sig to the server when the thread that starts it ends.
func dieWithParent(cmd *exec.Cmd, sig syscall.Signal) {
	cmd.SysProcAttr.Pdeathsig = sig
}

// isPostmaster says whether pid is a Postgres server that works in pgdata. Numbers are used again, so the number in a
// left-over file proves nothing: the program and its working folder do.
func isPostmaster(pid int, pgdata string) bool {
	proc := filepath.Join("/proc", strconv.Itoa(pid))
	exe, err := os.Readlink(filepath.Join(proc, "exe"))
	if err != nil || !strings.HasPrefix(filepath.Base(exe), "postgres") {
		return false
	}
	cwd, err := os.Stat(filepath.Join(proc, "cwd"))
	if err != nil {
		return false
	}
	data, err := os.Stat(pgdata)
	return err == nil && os.SameFile(cwd, data)
}
