package auth

import (
	"context"
	"crypto/rand"
	"crypto/subtle"
	"runtime"
	"time"
	"unicode/utf8"

	"golang.org/x/crypto/argon2"
	"golang.org/x/sync/semaphore"

	"midden/internal/farm"
)

const (
	// MinPassword and MaxPassword bound a new password, in characters.
	MinPassword = 12
	MaxPassword = 200
	// minDistinct turns away "aaaaaaaaaaaa" and "121212121212".
	minDistinct = 5

	saltBytes = 16
	keyBytes  = 32
)

// Cost is how hard one hash is. A password is stored with the cost it was
// hashed at, so raising it later breaks nobody's sign-in.
type Cost struct {
	MemoryKiB uint32
	Passes    uint32
	Lanes     uint8
}

// Recommended is the argon2id cost of the OWASP Password Storage Cheat Sheet:
// 19 MiB, two passes, one lane.
var Recommended = Cost{MemoryKiB: 19 * 1024, Passes: 2, Lanes: 1}

// PasswordOptions say how Passwords works; the zero value is good.
type PasswordOptions struct {
	Cost  Cost          // zero: Recommended
	Slots int           // hashes at a time; zero: one per processor
	Wait  time.Duration // for a slot; zero: two seconds
}

// Passwords hashes and verifies passwords. Every hash takes memory and a
// processor, so only so many run at a time.
type Passwords struct {
	cost  Cost
	slots *semaphore.Weighted
	wait  time.Duration
	decoy phc // what a sign-in with an unknown login is measured against
}

// NewPasswords is ready for concurrent use.
func NewPasswords(o PasswordOptions) *Passwords {
	if o.Cost == (Cost{}) {
		o.Cost = Recommended
	}
	if o.Slots <= 0 {
		o.Slots = runtime.GOMAXPROCS(0)
	}
	if o.Wait <= 0 {
		o.Wait = 2 * time.Second
	}
	return &Passwords{
		cost:  o.Cost,
		slots: semaphore.NewWeighted(int64(o.Slots)),
		wait:  o.Wait,
		decoy: phc{cost: o.Cost, salt: random(saltBytes), key: random(keyBytes)},
	}
}

// CheckNew refuses with password.length or password.weak. field is the JSON
// pointer of the password in the request.
func CheckNew(field, password string) error {
	if n := utf8.RuneCountInString(password); n < MinPassword || n > MaxPassword || !utf8.ValidString(password) {
		return farm.Refuse("password.length", field,
			"password: must be %d to %d characters of text; got %d", MinPassword, MaxPassword, n)
	}
	seen := map[rune]bool{}
	for _, r := range password {
		seen[r] = true
	}
	if len(seen) < minDistinct {
		return farm.Refuse("password.weak", field,
			"password: must use at least %d different characters; got %d", minDistinct, len(seen))
	}
	return nil
}

// Hash returns the PHC string to store. The caller has asked CheckNew first.
// It refuses with server.busy when no slot frees in time; a cancelled context
// is returned as it is.
func (p *Passwords) Hash(ctx context.Context, password string) (string, error) {
	h := phc{cost: p.cost, salt: random(saltBytes)}
	key, err := p.derive(ctx, h, password, keyBytes)
	if err != nil {
		return "", err
	}
	h.key = key
	return h.String(), nil
}

// Verify tells whether password is the one that stored was made of, and
// whether it should be hashed anew because the cost has changed.
//
// An empty stored is an unknown login or an account without a password: the
// answer is no, after the same work, so that the time taken tells nothing.
// Errors are as for Hash, and for a stored string that Hash never made.
func (p *Passwords) Verify(ctx context.Context, stored, password string) (ok, needsRehash bool, err error) {
	known := stored != ""
	h := p.decoy
	if known {
		if h, err = parsePHC(stored); err != nil {
			return false, false, err
		}
	}
	// Longer than any that CheckNew lets in: not worth hashing, and the length is the caller's own secret.
	if utf8.RuneCountInString(password) > MaxPassword {
		return false, false, nil
	}
	key, err := p.derive(ctx, h, password, uint32(len(h.key)))
	if err != nil {
		return false, false, err
	}
	same := subtle.ConstantTimeCompare(key, h.key) == 1
	ok = same && known
	return ok, ok && (h.cost != p.cost || len(h.key) != keyBytes), nil
}

func (p *Passwords) derive(ctx context.Context, h phc, password string, n uint32) ([]byte, error) {
	waiting, cancel := context.WithTimeout(ctx, p.wait)
	defer cancel()
	if err := p.slots.Acquire(waiting, 1); err != nil {
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		return nil, farm.Refuse("server.busy", "", "too many people are signing in at once; try again in a few seconds")
	}
	defer p.slots.Release(1)
	return argon2.IDKey([]byte(password), h.salt, h.cost.Passes, h.cost.MemoryKiB, h.cost.Lanes, n), nil
}

// random returns n bytes; crypto/rand ends the program rather than return fewer.
func random(n int) []byte {
	b := make([]byte, n)
	rand.Read(b)
	return b
}
