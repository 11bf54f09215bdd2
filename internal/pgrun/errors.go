package pgrun

import (
	"errors"
	"strings"
)

var (
	// ErrNoBinaries means that no usable Postgres was found on this computer.
	ErrNoBinaries = errors.New("no Postgres 15 or later was found on this computer")
	// ErrInUse means that another process holds the data folder.
	ErrInUse = errors.New("the data folder is in use")
	// ErrForeign means that the data folder holds something that Midden did not make.
	ErrForeign = errors.New("the data folder holds a database that Midden did not make")
	// ErrUnreachable means that the account that runs Postgres can't enter the data folder.
	ErrUnreachable = errors.New("the data folder can't be reached")
	// ErrVersion means that the data was made by a major version whose binaries are not here.
	ErrVersion = errors.New("the data was made by another major version of Postgres")
)

// Error says what could not be done, why, and what would help. Err is one of the package's errors where one fits.
type Error struct {
	Op  string // what was being done
	Err error  // why it failed
	Fix string // what to do about it
}

func (e *Error) Error() string {
	var b strings.Builder
	b.WriteString("private Postgres: ")
	if e.Op != "" {
		b.WriteString(e.Op + ": ")
	}
	b.WriteString(e.Err.Error())
	if e.Fix != "" {
		b.WriteString(". " + strings.ToUpper(e.Fix[:1]) + e.Fix[1:])
	}
	return b.String()
}

func (e *Error) Unwrap() error { return e.Err }
