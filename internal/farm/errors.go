package farm

import (
	"errors"
	"fmt"
	"strings"
)

// Code names a refusal: noun.reason, for example "lot.empty".
type Code string

// Error is the only error a rule or a use case refuses with. Anything else is
// a fault of ours and is shown to people as a fixed text.
type Error struct {
	Code    Code
	Field   string // JSON pointer into the request ("/amount/mass"), or empty
	Message string // what was wrong, where, and what would be right
	More    []Error
}

// Error joins the message and those of the further faults.
func (e *Error) Error() string {
	var b strings.Builder
	b.WriteString(string(e.Code))
	if e.Field != "" {
		b.WriteString(" " + e.Field)
	}
	b.WriteString(": " + e.Message)
	for i := range e.More {
		b.WriteString("; " + e.More[i].Error())
	}
	return b.String()
}

// Refuse makes an error with a code, the field at fault and a message.
func Refuse(code Code, field, format string, args ...any) *Error {
	return &Error{Code: code, Field: field, Message: fmt.Sprintf(format, args...)}
}

// AsError finds the farm error inside err; nil when there is none.
func AsError(err error) *Error {
	var e *Error
	if errors.As(err, &e) {
		return e
	}
	return nil
}

// CodeOf is the code of the farm error inside err, or "" when there is none.
func CodeOf(err error) Code {
	if e := AsError(err); e != nil {
		return e.Code
	}
	return ""
}

// Faults gathers several refusals, so that a person sees every mistake of a
// request at once. The zero value is ready.
type Faults struct{ list []Error }

// Add notes one refusal.
func (f *Faults) Add(code Code, field, format string, args ...any) {
	f.list = append(f.list, *Refuse(code, field, format, args...))
}

// Keep notes err when it is a farm error; it does nothing for nil.
func (f *Faults) Keep(err error) {
	if e := AsError(err); e != nil {
		f.list = append(f.list, *e)
	}
}

// Len is how many refusals were noted.
func (f *Faults) Len() int { return len(f.list) }

// Err is nil when nothing was noted; else the first refusal with the others in More.
func (f *Faults) Err() error {
	if len(f.list) == 0 {
		return nil
	}
	e := f.list[0]
	e.More = append(e.More[:len(e.More):len(e.More)], f.list[1:]...)
	return &e
}
