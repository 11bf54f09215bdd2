package service

import (
	"context"
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/ledger"
	"midden/internal/store"
)

// GiveawayNew is a wish to give castings away. A zero OccurredAt is now.
type GiveawayNew struct {
	ID          uuid.UUID
	OccurredAt  time.Time
	LotID       uuid.UUID
	Amount      farm.Entered
	To          farm.RecipientKind
	MemberID    uuid.UUID
	HouseholdID uuid.UUID
	Class       string
	Note        string
}

// GiveCastings books castings given to a member, household, bed or class of
// outsider. It refuses with giveaway.invalid, castings.not_found,
// castings.state, castings.short, castings.not_yet, mass.invalid,
// container.not_found, member.not_found, household.not_found, id.taken,
// day.future and day.closed.
func (s *Service) GiveCastings(ctx context.Context, a Actor, garden uuid.UUID, in GiveawayNew, once Once) (Done[farm.Giveaway], error) {
	content, err := digest(in)
	if err != nil {
		return Done[farm.Giveaway]{}, err
	}
	in.ID = s.idOr(in.ID)
	type known struct {
		made[farm.Giveaway]
		castingsAsked
	}
	return write(ctx, s, a, garden, farm.HandOut, once,
		func(tx *store.Tx) known {
			return known{made[farm.Giveaway]{tx.GiveawayContent(in.ID), tx.Giveaway(in.ID)}, s.askCastings(tx, in.LotID, in.OccurredAt, &in.Amount)}
		},
		func(w *Work, k known) (farm.Giveaway, error) {
			if same, err := again(k.content, content, "id.taken"); same || err != nil {
				return k.row.Value, err
			}
			g := farm.Giveaway{ID: in.ID, LotID: in.LotID, To: in.To, MemberID: in.MemberID, HouseholdID: in.HouseholdID, Class: in.Class,
				Note: in.Note, RecordedAt: w.Now, RecordedBy: w.Member.ID}
			if err := g.Validate(); err != nil {
				return g, err
			}
			cw, err := w.onCastings(k.castingsAsked, in.LotID, in.OccurredAt)
			if err != nil {
				return g, err
			}
			g.OccurredAt, g.Day = cw.at, cw.day
			if err := g.CheckFrom(cw.lot.CastingsLot); err != nil {
				return g, err
			}
			return cw.give(g, in.Amount, content)
		})
}

func (w *castingsWork) give(g farm.Giveaway, amount farm.Entered, content [32]byte) (farm.Giveaway, error) {
	var weight farm.Weight
	var err error
	if g.Entered, weight, err = w.weigh("/amount", amount, farm.CastingsDensity, w.vessels); err != nil {
		return g, err
	}
	g.Grams = weight.Net
	if least := w.stock.Least(w.day); g.Grams > least {
		return g, farm.Refuse("castings.short", "/amount", "amount: the lot holds %d g from %s on; asked for %d g", least, w.day, g.Grams)
	}
	entry := w.entry(ledger.KindGiveaway, ledger.Cause{Kind: "giveaway", ID: g.ID}, g.OccurredAt, g.Day,
		moved(ledger.CastingsSubstance, g.Grams, methodOf(g.Entered.Method), weight.RelSDPermille, w.side(), side{w.recipient(g), w.bin.SiteID})...)
	g.EntryID = entry.ID
	if err := w.InsertGiveaway(g, content); err != nil {
		return g, err
	}
	return g, w.Post(entry)
}

// recipient is the account of who receives. A bed is known by its name, so its
// id is made of the name, the same each time.
func (w *Work) recipient(g farm.Giveaway) ledger.Account {
	switch g.To {
	case farm.ToMember:
		return ledger.RecipientAccount(ledger.Member, g.MemberID)
	case farm.ToHousehold:
		return ledger.RecipientAccount(ledger.Household, g.HouseholdID)
	case farm.ToBed:
		return ledger.RecipientAccount(ledger.Bed, uuid.NewSHA1(w.Garden.ID, []byte("bed "+farm.Fold(g.Class))))
	}
	return ledger.OutsiderRecipient(farm.OutsiderClass(g.Class))
}

// Giveaways lists giveaways, the latest first.
func (s *Service) Giveaways(ctx context.Context, a Actor, garden uuid.UUID, f store.GiveawayFilter, p store.Page) (store.List[farm.Giveaway], error) {
	return paged(ctx, s, a, garden, farm.HandOut, func(b *store.Batch) *store.Paged[farm.Giveaway] { return b.Giveaways(f, p) })
}

// GiveawayLabel is the text for the bag. It refuses with giveaway.not_found.
func (s *Service) GiveawayLabel(ctx context.Context, a Actor, garden, id uuid.UUID) (string, error) {
	var row *store.Row[farm.Giveaway]
	var lot *store.Row[store.CastingsOnHand]
	g, _, err := s.read(ctx, a, garden, farm.HandOut, func(b *store.Batch) { row, lot = b.Giveaway(id), b.LotOfGiveaway(id) })
	if err != nil {
		return "", err
	}
	given, err := row.Or("giveaway.not_found", "no giveaway %s in this garden", id)
	if err != nil {
		return "", err
	}
	return given.Label(g, lot.Value.CastingsLot), nil
}
