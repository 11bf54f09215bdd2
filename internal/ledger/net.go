package ledger

import (
	"cmp"
	"slices"

	"github.com/google/uuid"

	"midden/internal/measure"
)

// Holding is one substance on one account.
type Holding struct {
	Account   Account
	Substance Substance
}

// Compare orders holdings by the text of account, then substance: the order in
// which every writer locks them.
func (h Holding) Compare(o Holding) int {
	return cmp.Or(cmp.Compare(h.Account.String(), o.Account.String()), cmp.Compare(h.Substance, o.Substance))
}

// Move is the net of a holding on one day.
type Move struct {
	Holding
	Day measure.Day
	Net measure.Grams
}

// Net sums the postings of entries by account, substance and day. Nets of zero
// are kept: the day had movement. The result is in locking order.
func Net(entries ...Entry) []Move {
	type key struct {
		Holding
		day measure.Day
	}
	sums := map[key]measure.Grams{}
	for _, e := range entries {
		for _, p := range e.Postings {
			sums[key{Holding{p.Account, p.Substance}, e.EffectiveOn}] += p.Grams
		}
	}
	moves := make([]Move, 0, len(sums))
	for k, g := range sums {
		moves = append(moves, Move{k.Holding, k.day, g})
	}
	slices.SortFunc(moves, func(a, b Move) int {
		return cmp.Or(a.Holding.Compare(b.Holding), a.Day.Compare(b.Day))
	})
	return moves
}

// TotalKey names one daily roll-up. Kind is the entry's kind; a reversal
// counts against the kind that it undoes.
type TotalKey struct {
	Day       measure.Day
	Site      uuid.UUID // zero when the posting had none
	Account   Account
	Substance Substance
	Kind      string
}

// Compare orders keys the way every writer upserts them.
func (k TotalKey) Compare(o TotalKey) int {
	return cmp.Or(
		k.Day.Compare(o.Day),
		cmp.Compare(k.Site.String(), o.Site.String()),
		cmp.Compare(k.Account.String(), o.Account.String()),
		cmp.Compare(k.Substance, o.Substance),
		cmp.Compare(k.Kind, o.Kind),
	)
}

// Total is what moved on one key. In and Out are grams into and out of the
// account; a reversal takes away from the side that it undoes. The class sums
// (Weighed + Container + Estimate + Book) add to In + Out; Container holds
// counted too. SDLinear is the sum of grams × ‰, for errors that move
// together; SDSquare the sum of its squares, for errors that are independent.
type Total struct {
	In, Out                            measure.Grams
	Weighed, Container, Estimate, Book measure.Grams
	Records                            int64
	SDLinear                           int64   // gram · permille
	SDSquare                           Squares // (gram · permille)²
}

// Add sums two totals.
func (t Total) Add(o Total) Total {
	t.In += o.In
	t.Out += o.Out
	t.Weighed += o.Weighed
	t.Container += o.Container
	t.Estimate += o.Estimate
	t.Book += o.Book
	t.Records += o.Records
	t.SDLinear += o.SDLinear
	t.SDSquare = t.SDSquare.plus(o.SDSquare)
	return t
}

// Net is what stayed on the account.
func (t Total) Net() measure.Grams { return t.In - t.Out }

func totalOf(p Posting, reversal bool) Total {
	sign, g := int64(1), int64(p.Grams)
	if reversal {
		sign, g = -1, -g
	}
	size := g
	if size < 0 {
		size = -size
	}
	moved := measure.Grams(sign * size)
	t := Total{Records: sign}
	if g > 0 {
		t.In = moved
	} else {
		t.Out = moved
	}
	switch p.Method {
	case Weighed:
		t.Weighed = moved
	case Container, Counted:
		t.Container = moved
	case Estimate:
		t.Estimate = moved
	case Book:
		t.Book = moved
	}
	spread := size * int64(p.RelSDPermille)
	t.SDLinear = sign * spread
	t.SDSquare = square(spread, sign)
	return t
}

// KeyedTotal is a daily roll-up with its key.
type KeyedTotal struct {
	TotalKey
	Total
}

// Totals are the daily roll-ups that entries add to, in upsert order.
func Totals(entries ...Entry) []KeyedTotal {
	sums := map[TotalKey]Total{}
	for _, e := range entries {
		for _, p := range e.Postings {
			if !p.Account.RolledUp() {
				continue
			}
			k := TotalKey{e.EffectiveOn, p.Site, p.Account, p.Substance, e.Kind}
			sums[k] = sums[k].Add(totalOf(p, e.IsReversal()))
		}
	}
	out := make([]KeyedTotal, 0, len(sums))
	for k, t := range sums {
		out = append(out, KeyedTotal{k, t})
	}
	slices.SortFunc(out, func(a, b KeyedTotal) int { return a.TotalKey.Compare(b.TotalKey) })
	return out
}
