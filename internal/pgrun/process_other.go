//go:build !linux

package pgrun

import (
	"os/exec"
	"strconv"
	"strings"
	"syscall"
)

// dieWithParent does nothing where the kernel offers no such signal. The next start finds the orphan and stops it.
func dieWithParent(*exec.Cmd, syscall.Signal) {}

// isPostmaster says whether pid is a Postgres server that was started on pgdata. Numbers are used again, so the number in
// a left-over file proves nothing: the command line does.
func isPostmaster(pid int, pgdata string) bool {
	out, err := exec.Command("ps", "-o", "command=", "-p", strconv.Itoa(pid)).Output()
	if err != nil {
		return false
	}
	line := strings.TrimSpace(string(out)) + " "
	return strings.Contains(line, "postgres") && strings.Contains(line, "-D "+pgdata+" ")
}
