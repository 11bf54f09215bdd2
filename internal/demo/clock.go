package demo

import (
	"encoding/binary"
	"math/rand/v2"
	"sync"
	"time"

	"github.com/google/uuid"
)

// Clock stands at the moment that is being told. Safe for concurrent use.
type Clock struct {
	mu sync.Mutex
	at time.Time
}

// Now is the moment; make the service with it.
func (c *Clock) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.at
}

func (c *Clock) set(at time.Time) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.at = at
}

// IDs makes ids of version 7 (RFC 9562) from the clock and a seed, so that the
// same seed told at the same moments gives the same ids.
func IDs(seed uint64, c *Clock) func() uuid.UUID {
	rng := rand.New(rand.NewPCG(seed, 0x1d5))
	var mu sync.Mutex
	return func() uuid.UUID {
		mu.Lock()
		defer mu.Unlock()
		var id uuid.UUID
		var stamp [8]byte
		binary.BigEndian.PutUint64(stamp[:], uint64(c.Now().UnixMilli()))
		copy(id[:6], stamp[2:])
		binary.BigEndian.PutUint16(id[6:], uint16(rng.Uint32()))
		binary.BigEndian.PutUint64(id[8:], rng.Uint64())
		id[6] = id[6]&0x0f | 0x70
		id[8] = id[8]&0x3f | 0x80
		return id
	}
}
