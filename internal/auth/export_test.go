package auth

import (
	"context"
	"runtime"
)

// Words is the list that generated passwords are made of.
var Words = words

// HoldSlots takes every slot of p, made with the usual number of them.
func HoldSlots(p *Passwords) (free func()) {
	n := int64(runtime.GOMAXPROCS(0))
	if err := p.slots.Acquire(context.Background(), n); err != nil {
		panic(err)
	}
	return func() { p.slots.Release(n) }
}

// Reread parses a stored hash and writes it again.
func Reread(stored string) (string, error) {
	h, err := parsePHC(stored)
	return h.String(), err
}
