package ledger

import (
	"fmt"
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
)

// Method is how a posting's grams were got; the season report needs to know.
type Method string

// Methods, best first. Book is what the books say: a transfer of all that is
// left, a closing balance.
const (
	Weighed   Method = "weighed"
	Container Method = "container" // containers × fill × bulk density
	Counted   Method = "counted"   // heads × mean mass, or a sampled worm fraction
	Estimate  Method = "estimate"
	Book      Method = "book"
)

// Valid tells whether m is a known method.
func (m Method) Valid() bool {
	switch m {
	case Weighed, Container, Counted, Estimate, Book:
		return true
	}
	return false
}

// Limits of an entry.
const (
	MaxPosting  = measure.Grams(100_000_000) // 100 t: far above a garden, far below overflow
	MaxPostings = 500
	MaxRelSD    = 2000 // permille: an honest guess is not worse than ±200 %
)

// Posting moves grams of one substance into (positive) or out of (negative) an
// account. RelSDPermille is the relative standard deviation of the grams in
// thousandths, as stated when they were measured. Site is where the account's
// thing stands, or the zero id.
type Posting struct {
	Account       Account
	Substance     Substance
	Grams         measure.Grams
	Method        Method
	RelSDPermille int
	Site          uuid.UUID
}

// Cause names the record that an entry came from: a lot, a feeding, a transfer.
type Cause struct {
	Kind string // a short lower-case word
	ID   uuid.UUID
}

// Entry is one physical movement. Entries are never changed or deleted; a
// mistake is reversed by an entry that names it.
type Entry struct {
	Garden      uuid.UUID
	ID          uuid.UUID
	Kind        string      // what happened: "intake", "feeding", "harvest", …
	EffectiveOn measure.Day // the garden-local day it counts on
	OccurredAt  time.Time
	RecordedAt  time.Time
	Actor       uuid.UUID // member; zero for the service's own work
	Cause       Cause
	Reverses    uuid.UUID // the entry undone by this one, or zero
	Postings    []Posting
}

// IsReversal tells whether the entry undoes another.
func (e Entry) IsReversal() bool { return e.Reverses != uuid.Nil }

// Validate refuses with entry.invalid an entry that breaks a rule of the
// ledger: fewer than two postings, a zero or boundless posting, an unknown
// account, substance or method, a substance that does not sum to zero, or a
// missing id, kind, day or instant.
func (e Entry) Validate() error {
	var f farm.Faults
	bad := func(field, format string, args ...any) {
		f.Add("entry.invalid", "/"+field, field+": "+format, args...)
	}
	if e.Garden == uuid.Nil {
		bad("garden_id", "must be set")
	}
	if e.ID == uuid.Nil {
		bad("id", "must be set")
	}
	if !word.MatchString(e.Kind) {
		bad("kind", "must be a lower-case word; got %q", e.Kind)
	}
	if !word.MatchString(e.Cause.Kind) || e.Cause.ID == uuid.Nil {
		bad("cause", "must name a record; got %q %s", e.Cause.Kind, e.Cause.ID)
	}
	if e.Reverses == e.ID && e.ID != uuid.Nil {
		bad("reverses", "an entry can't undo itself")
	}
	if e.EffectiveOn.IsZero() {
		bad("effective_on", "must be a day")
	}
	if e.OccurredAt.IsZero() || e.RecordedAt.IsZero() {
		bad("occurred_at", "both instants must be set")
	}
	if n := len(e.Postings); n < 2 || n > MaxPostings {
		bad("postings", "must be between 2 and %d; got %d", MaxPostings, n)
	}
	sums := map[Substance]measure.Grams{}
	for i, p := range e.Postings {
		at := fmt.Sprintf("postings/%d", i)
		if _, err := ParseAccount(p.Account.String()); err != nil || !p.Account.canonical() {
			bad(at, "unknown account %q", p.Account)
		}
		if _, err := ParseSubstance(string(p.Substance)); err != nil {
			bad(at, "unknown substance %q", p.Substance)
		}
		if p.Grams == 0 || p.Grams > MaxPosting || p.Grams < -MaxPosting {
			bad(at, "grams must be between 1 g and 100 t either way; got %d g", p.Grams)
			continue
		}
		if !p.Method.Valid() {
			bad(at, "unknown method %q", p.Method)
		}
		if p.RelSDPermille < 0 || p.RelSDPermille > MaxRelSD {
			bad(at, "relative spread must be between 0 and %d ‰; got %d ‰", MaxRelSD, p.RelSDPermille)
		}
		sums[p.Substance] += p.Grams
	}
	for _, p := range e.Postings { // in posting order, so that the message is always the same
		if left := sums[p.Substance]; left != 0 {
			bad("postings", "%s must sum to 0 g; got %d g", p.Substance, left)
			delete(sums, p.Substance)
		}
	}
	return f.Err()
}

// canonical tells whether the account is exactly what its text says, with no
// stray field that would make two equal accounts differ as map keys.
func (a Account) canonical() bool {
	b, err := ParseAccount(a.String())
	return err == nil && a == b
}

// Reversal says who undoes an entry and when.
type Reversal struct {
	ID          uuid.UUID
	EffectiveOn measure.Day // the zero day means the day of the entry undone
	OccurredAt  time.Time
	RecordedAt  time.Time
	Actor       uuid.UUID
}

// Reverse is the entry that undoes e: the same kind and cause, every posting
// the other way. It refuses with entry.is_reversal to undo an undoing: enter
// the movement again instead.
func Reverse(e Entry, r Reversal) (Entry, error) {
	if e.IsReversal() {
		return Entry{}, farm.Refuse("entry.is_reversal", "",
			"entry %s already undoes %s; enter the movement again instead", e.ID, e.Reverses)
	}
	out := e
	out.ID, out.Actor, out.Reverses = r.ID, r.Actor, e.ID
	out.OccurredAt, out.RecordedAt = r.OccurredAt, r.RecordedAt
	if !r.EffectiveOn.IsZero() {
		out.EffectiveOn = r.EffectiveOn
	}
	out.Postings = make([]Posting, len(e.Postings))
	for i, p := range e.Postings {
		p.Grams = -p.Grams
		out.Postings[i] = p
	}
	return out, nil
}
