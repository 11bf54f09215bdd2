package pgrun

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

// account is the operating system user that runs Postgres, which refuses to run as root.
type account struct {
	name     string
	uid, gid int
	switched bool // this process is root and steps down for the server
	client   string
}

// serverAccount is this process's own user, or for root an unprivileged one. initdb asks for a name in the user database.
func serverAccount() (account, error) {
	self, err := user.LookupId(strconv.Itoa(os.Geteuid()))
	if err != nil {
		return account{}, &Error{Op: "choose an account for the server", Err: err,
			Fix: fmt.Sprintf("give user id %d a name in /etc/passwd", os.Geteuid())}
	}
	if os.Geteuid() != 0 {
		return newAccount(self, self.Username, false)
	}
	for _, name := range []string{"postgres", "nobody"} {
		if u, err := user.Lookup(name); err == nil {
			return newAccount(u, self.Username, true)
		}
	}
	return account{}, &Error{Op: "choose an account for the server", Err: fmt.Errorf("neither postgres nor nobody has an account"),
		Fix: "Postgres will not run as root: add an account named postgres, or run Midden as an ordinary user"}
}

func newAccount(u *user.User, client string, switched bool) (account, error) {
	uid, err := strconv.Atoi(u.Uid)
	if err != nil {
		return account{}, &Error{Op: "choose an account for the server", Err: err}
	}
	gid, err := strconv.Atoi(u.Gid)
	if err != nil {
		return account{}, &Error{Op: "choose an account for the server", Err: err}
	}
	return account{name: u.Username, uid: uid, gid: gid, switched: switched, client: client}, nil
}

// command prepares a program to run as the account in dir, with none of the caller's PG… variables.
func (a account) command(ctx context.Context, dir, path string, args ...string) *exec.Cmd {
	cmd := exec.CommandContext(ctx, path, args...)
	cmd.Dir = dir
	cmd.Env = []string{"PATH=" + filepath.Dir(path) + ":/usr/local/bin:/usr/bin:/bin", "LC_ALL=C", "TZ=UTC", "HOME=" + dir}
	if v := os.Getenv("LD_LIBRARY_PATH"); v != "" {
		cmd.Env = append(cmd.Env, "LD_LIBRARY_PATH="+v)
	}
	cmd.SysProcAttr = &syscall.SysProcAttr{}
	if a.switched {
		cmd.SysProcAttr.Credential = &syscall.Credential{Uid: uint32(a.uid), Gid: uint32(a.gid)}
	}
	return cmd
}

// own gives a folder or file to the account. Only root can, and only root needs to.
func (a account) own(path string) error {
	if !a.switched {
		return nil
	}
	return os.Lchown(path, a.uid, a.gid)
}

// reaches says whether the account can enter dir, or its nearest ancestor that exists. It really tries: mode bits tell
// nothing of access lists and mounts. They only help to name the folder that is in the way.
func (a account) reaches(ctx context.Context, dir, program string) error {
	if !a.switched {
		return nil
	}
	at := dir
	for at != "/" {
		if _, err := os.Stat(at); err == nil {
			break
		}
		at = filepath.Dir(at)
	}
	err := a.command(ctx, at, program, "-V").Run()
	if err == nil {
		return nil
	}
	if ctx.Err() != nil {
		return ctx.Err()
	}
	why := bare(err).Error()
	for up := at; ; up = filepath.Dir(up) {
		if info, err := os.Stat(up); err == nil && !a.mayEnter(info) {
			why = fmt.Sprintf("%s lets it in no further (mode %04o)", up, info.Mode().Perm())
		}
		if up == "/" {
			break
		}
	}
	return &Error{Op: "open " + dir, Fix: "set " + EnvDataDir + " to a folder outside it, such as /var/lib/midden",
		Err: fmt.Errorf("%w by %s, the account that runs the server when Midden runs as root: %s", ErrUnreachable, a.name, why)}
}

func (a account) mayEnter(info os.FileInfo) bool {
	st, ok := info.Sys().(*syscall.Stat_t)
	if !ok {
		return true
	}
	mode := info.Mode().Perm()
	switch {
	case int(st.Uid) == a.uid:
		return mode&0o100 != 0
	case int(st.Gid) == a.gid:
		return mode&0o010 != 0
	default:
		return mode&0o001 != 0
	}
}
