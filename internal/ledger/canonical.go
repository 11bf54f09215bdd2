package ledger

import (
	"crypto/sha256"
	"fmt"
	"strings"
	"time"

	"github.com/google/uuid"
)

// Format is the version of the canonical bytes, stored beside each hash. Old
// versions must stay readable for ever: add a new one, never change one.
const Format = 1

// instant is how a time is hashed: UTC in whole microseconds, as the database keeps it.
const instant = "2006-01-02T15:04:05.000000Z"

// Canonical is the entry as bytes, the same for equal entries on every
// machine. It holds ids and quantities only: erasing a person's name changes
// no hash. One line per field, one per posting in order; every field is an id,
// a word, a number or a date, so no value can contain a separator.
func (e Entry) Canonical() []byte {
	var b strings.Builder
	fmt.Fprintf(&b, "midden-entry %d\n", Format)
	fmt.Fprintf(&b, "garden %s\n", e.Garden)
	fmt.Fprintf(&b, "id %s\n", e.ID)
	fmt.Fprintf(&b, "kind %s\n", e.Kind)
	fmt.Fprintf(&b, "effective_on %s\n", e.EffectiveOn)
	fmt.Fprintf(&b, "occurred_at %s\n", e.OccurredAt.UTC().Truncate(time.Microsecond).Format(instant))
	fmt.Fprintf(&b, "recorded_at %s\n", e.RecordedAt.UTC().Truncate(time.Microsecond).Format(instant))
	fmt.Fprintf(&b, "actor %s\n", orDash(e.Actor))
	fmt.Fprintf(&b, "cause %s %s\n", e.Cause.Kind, e.Cause.ID)
	fmt.Fprintf(&b, "reverses %s\n", orDash(e.Reverses))
	for _, p := range e.Postings {
		fmt.Fprintf(&b, "posting %s %s %d %s %d %s\n",
			p.Account, p.Substance, p.Grams, p.Method, p.RelSDPermille, orDash(p.Site))
	}
	return []byte(b.String())
}

// Hash is the SHA-256 of the canonical bytes.
func (e Entry) Hash() [sha256.Size]byte { return sha256.Sum256(e.Canonical()) }

func orDash(id uuid.UUID) string {
	if id == uuid.Nil {
		return "-"
	}
	return id.String()
}
