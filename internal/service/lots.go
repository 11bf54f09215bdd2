package service

import (
	"context"
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/ledger"
	"midden/internal/measure"
	"midden/internal/store"
)

// Intake is what was brought. Status is the verdict at the table: received
// leaves it open. At most one of HouseholdID and MemberID; neither is an
// unknown giver. A zero OccurredAt is now; a zero UseBy comes from the
// material's shelf life.
type Intake struct {
	ID          uuid.UUID
	OccurredAt  time.Time
	Material    string
	Mass        farm.Entered
	SiteID      uuid.UUID
	HouseholdID uuid.UUID
	MemberID    uuid.UUID
	WindowID    uuid.UUID
	PledgeID    uuid.UUID
	Place       farm.StoragePlace
	UseBy       measure.Day
	Status      farm.LotStatus
	Reason      string
	Note        string
}

// TakeIn books a lot that arrived, source to lot, and its rejection if it was
// turned away at once. It refuses with lot.invalid, mass.invalid, lot.exists,
// lot.no_giver, window.not_found, pledge.not_found, material.not_found, container.not_found, site.not_found, household.not_found,
// member.not_found, day.future and day.closed.
func (s *Service) TakeIn(ctx context.Context, a Actor, garden uuid.UUID, in Intake, once Once) (Done[store.LotOnHand], error) {
	content, err := digest(in)
	if err != nil {
		return Done[store.LotOnHand]{}, err
	}
	in.ID = s.idOr(in.ID)
	type known struct {
		made[store.LotOnHand]
		material *store.Row[farm.MaterialOverride]
		vessels  *store.Rows[farm.Container]
		pledge   *store.Row[farm.Pledge]
	}
	return write(ctx, s, a, garden, farm.TakeIn, once,
		func(tx *store.Tx) known {
			k := known{made[store.LotOnHand]{tx.LotContent(in.ID), tx.Lot(in.ID)}, tx.MaterialOverride(in.Material), vessels(&tx.Batch, &in.Mass),
				&store.Row[farm.Pledge]{}}
			if in.PledgeID != uuid.Nil {
				k.pledge = tx.LockPledge(in.PledgeID)
			}
			return k
		},
		func(w *Work, k known) (store.LotOnHand, error) {
			material, ok := s.known(in.Material, k.material)
			if same, err := again(k.content, content, "lot.exists"); same || err != nil {
				k.row.Value.Group = material.Group
				return k.row.Value, err
			}
			if !ok || material.Use != farm.ScrapUse {
				return store.LotOnHand{}, noMaterial(in.Material)
			}
			lot, err := w.newLot(in, material.Material, k.vessels, k.pledge)
			if err != nil {
				return store.LotOnHand{}, err
			}
			out, err := w.takeIn(lot, in, content)
			out.Group = material.Group
			return out, err
		})
}

// newLot checks an intake and works out its mass, day and use-by day.
func (w *Work) newLot(in Intake, m farm.Material, v *store.Rows[farm.Container], pledge *store.Row[farm.Pledge]) (farm.Lot, error) {
	at, day, err := w.at(in.OccurredAt)
	if err != nil {
		return farm.Lot{}, err
	}
	lot := farm.Lot{
		ID: in.ID, Material: m.Key, FromHousehold: in.HouseholdID, FromMember: in.MemberID, SiteID: in.SiteID,
		WindowID: in.WindowID, PledgeID: in.PledgeID, Entered: in.Mass, Place: in.Place, UseBy: in.UseBy,
		Status: farm.LotReceived, Note: in.Note, ReceivedAt: at, ReceivedOn: day, RecordedAt: w.Now,
		RecordedBy: w.Member.ID, Version: 1,
	}
	if lot.Place == "" {
		lot.Place = farm.Shelf
	}
	if lot.UseBy.IsZero() {
		lot.UseBy = farm.UseByFor(m, lot.Place, day)
	}
	var f farm.Faults
	lot.Entered, lot.Weight, err = w.weigh("/amount", in.Mass, m.DensityGPerL, v)
	f.Keep(err)
	lot.Entered.DensityGPerL = lot.Weight.DensityGPerL
	f.Keep(lot.Validate())
	f.Keep(w.keep(pledge, &lot))
	if lot.Status == in.Status && in.Reason != "" {
		f.Add("lot.invalid", "/reason", "reason: only a rejection has one")
	}
	if lot.FromHousehold == uuid.Nil && lot.FromMember == uuid.Nil && !w.Garden.Settings.AcceptWithoutTag {
		f.Add("lot.no_giver", "/household_id", "household_id: this garden takes scraps only with a giver's name")
	}
	return lot, f.Err()
}

func (w *Work) takeIn(lot farm.Lot, in Intake, content [32]byte) (store.LotOnHand, error) {
	source := ledger.UnknownSource()
	switch {
	case lot.FromHousehold != uuid.Nil:
		source = ledger.HouseholdSource(lot.FromHousehold)
	case lot.FromMember != uuid.Nil:
		source = ledger.MemberSource(lot.FromMember)
	}
	out := store.LotOnHand{Lot: lot, OnHand: lot.Weight.Net}
	intake := w.entry(ledger.KindIntake, lotCause(lot), lot.ReceivedAt, lot.ReceivedOn,
		moved(ledger.Scraps(lot.Material), lot.Weight.Net, methodOf(lot.Entered.Method), lot.Weight.RelSDPermille,
			side{source, lot.SiteID}, lotSide(lot))...)
	out.EntryID = intake.ID
	entries := []ledger.Entry{intake}
	if in.Status != farm.LotReceived && in.Status != "" {
		judged, err := out.Judge(in.Status, in.Reason, "")
		if err != nil {
			return out, err
		}
		out.Lot = judged
		if in.Status == farm.LotRejected {
			entries = append(entries, w.rejection(lot, out.OnHand, lot.ReceivedAt, lot.ReceivedOn))
			out.OnHand = 0
		}
	}
	w.InsertLot(out.Lot, content)
	w.InsertLotPlace(store.LotPlace{ID: w.ids(), LotID: lot.ID, SiteID: lot.SiteID, Place: lot.Place, UseBy: lot.UseBy,
		MovedAt: lot.ReceivedAt, MovedBy: w.Member.ID})
	return out, w.Post(entries...)
}

func (w *Work) rejection(lot farm.Lot, g measure.Grams, at time.Time, on measure.Day) ledger.Entry {
	return w.entry(ledger.KindVerdict, lotCause(lot), at, on,
		moved(ledger.Scraps(lot.Material), g, ledger.Book, lot.Weight.RelSDPermille, lotSide(lot),
			side{ledger.RejectedAccount(), lot.SiteID})...)
}

func lotCause(l farm.Lot) ledger.Cause { return ledger.Cause{Kind: "lot", ID: l.ID} }

func lotSide(l farm.Lot) side { return side{ledger.LotAccount(l.ID), l.SiteID} }

func methodOf(m farm.MassMethod) ledger.Method {
	switch m {
	case farm.ByScale:
		return ledger.Weighed
	case farm.ByContainer:
		return ledger.Container
	}
	return ledger.Estimate
}

// Lots lists lots, the latest first.
func (s *Service) Lots(ctx context.Context, a Actor, garden uuid.UUID, f store.LotFilter, p store.Page) (store.List[store.LotOnHand], error) {
	var page *store.Paged[store.LotOnHand]
	var overrides *store.Rows[farm.MaterialOverride]
	_, _, err := s.read(ctx, a, garden, farm.ReadFloor, func(b *store.Batch) { page, overrides = b.Lots(f, p), b.MaterialOverrides() })
	if err != nil {
		return store.List[store.LotOnHand]{}, err
	}
	list := page.List()
	groups := s.groups(overrides.Values)
	for i := range list.Items {
		list.Items[i].Group = groups[list.Items[i].Material]
	}
	return list, nil
}

// groups is the go-easy group of every material, as the garden works with it.
func (s *Service) groups(overrides []farm.MaterialOverride) map[string]farm.Group {
	out := map[string]farm.Group{}
	for _, m := range s.knownMaterials(overrides) {
		out[m.Key] = m.Group
	}
	return out
}

// LotStory is a lot with the places it was kept and the entries that moved it.
type LotStory struct {
	store.LotOnHand
	Places  []store.LotPlace
	Entries []store.Recorded
}

// Lot is one lot with its story. It refuses with lot.not_found.
func (s *Service) Lot(ctx context.Context, a Actor, garden, id uuid.UUID) (LotStory, error) {
	var row *store.Row[store.LotOnHand]
	var places *store.Rows[store.LotPlace]
	var entries *store.Rows[store.Recorded]
	var overrides *store.Rows[farm.MaterialOverride]
	_, _, err := s.read(ctx, a, garden, farm.ReadFloor, func(b *store.Batch) {
		row, places, entries = b.Lot(id), b.LotPlaces(id), b.AccountEntries(ledger.LotAccount(id))
		overrides = b.MaterialOverrides()
	})
	if err != nil {
		return LotStory{}, err
	}
	lot, err := row.Or("lot.not_found", "no lot %s in this garden", id)
	lot.Group = s.groups(overrides.Values)[lot.Material]
	return LotStory{lot, places.Values, entries.Values}, err
}
