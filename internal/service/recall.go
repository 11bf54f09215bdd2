package service

import (
	"crypto/sha256"
	"encoding/json"
	"sync"

	"midden/internal/vermi"
)

// mostRecalled bounds the states that are kept: some kilobytes each.
const mostRecalled = 2048

// recall keeps bins' states by what they were worked out from. A state depends
// on its record and on nothing else, so there is nothing to invalidate: a new
// entry, a new day or a changed setting is another record. Safe for concurrent use.
type recall struct {
	mu     sync.Mutex
	states map[[sha256.Size]byte]vermi.State
	oldest [][sha256.Size]byte // in the order they were kept
}

// state is what the record says of its bin. Callers must not change its slices.
func (c *recall) state(r vermi.Record) vermi.State {
	said, err := json.Marshal(r)
	if err != nil { // a reading that is no number: nothing to recognise it by
		return vermi.Estimate(r)
	}
	key := sha256.Sum256(said)
	c.mu.Lock()
	st, known := c.states[key]
	c.mu.Unlock()
	if known {
		return st
	}
	st = vermi.Estimate(r)
	c.mu.Lock()
	defer c.mu.Unlock()
	if _, known := c.states[key]; known {
		return st
	}
	if c.states == nil {
		c.states = map[[sha256.Size]byte]vermi.State{}
	}
	if len(c.oldest) == mostRecalled {
		delete(c.states, c.oldest[0])
		c.oldest = c.oldest[1:]
	}
	c.states[key], c.oldest = st, append(c.oldest, key)
	return st
}
