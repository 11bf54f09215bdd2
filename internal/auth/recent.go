package auth

import (
	"crypto/sha256"
	"sync"
	"time"
)

// mostRecent bounds the tokens that are remembered as genuine.
const mostRecent = 4096

// recent remembers tokens whose signature and claims were found good, by their
// digest: a person sends the same token for a quarter of an hour, and checking
// a signature costs more than the rest of reading a request. Times are judged
// anew at each use. Safe for concurrent use.
type recent struct {
	mu    sync.Mutex
	known map[[sha256.Size]byte]proved
}

type proved struct {
	access    Access
	notBefore time.Time
}

func (r *recent) find(now time.Time, token string) (Access, bool) {
	key := sha256.Sum256([]byte(token))
	r.mu.Lock()
	defer r.mu.Unlock()
	p, ok := r.known[key]
	if !ok {
		return Access{}, false
	}
	if !now.Before(p.access.ExpiresAt.Add(Leeway)) || now.Before(p.notBefore.Add(-Leeway)) || now.Before(p.access.IssuedAt.Add(-Leeway)) {
		return Access{}, false // judged in full, so that the refusal says why
	}
	return p.access, true
}

func (r *recent) keep(token string, p proved) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.known == nil || len(r.known) >= mostRecent {
		r.known = make(map[[sha256.Size]byte]proved)
	}
	r.known[sha256.Sum256([]byte(token))] = p
}
