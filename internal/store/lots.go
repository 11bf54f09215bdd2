package store

import (
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
)

var (
	_ = refuseOn("lots_pkey", "lot.exists", "/id", "id: another lot has this id")
	_ = refuseOn("lots_site_fkey", "site.not_found", "/site_id", "site_id: no such site in this garden")
	_ = refuseOn("lots_household_fkey", "household.not_found", "/household_id", "household_id: no such household in this garden")
	_ = refuseOn("lots_window_fkey", "window.not_found", "/window_id", "window_id: no such drop-off window in this garden")
	_ = refuseOn("lots_pledge_fkey", "pledge.not_found", "/pledge_id", "pledge_id: no such pledge in this garden")
	_ = refuseOn("lots_container_fkey", "container.not_found", "/amount/container_id", "container_id: no such container in this garden")
	_ = refuseOn("lots_member_fkey", "member.not_found", "/member_id", "member_id: no such member in this garden")
)

// LotOnHand is a lot with what is left of it. Group is its material's, as the
// garden works with it: the use case sets it, for the catalogue is not stored.
type LotOnHand struct {
	farm.Lot
	OnHand measure.Grams
	Group  farm.Group
}

type lotRow struct {
	ID            uuid.UUID  `db:"lot_id"`
	Parent        *uuid.UUID `db:"parent_id"`
	Material      string     `db:"material"`
	FromHousehold *uuid.UUID `db:"from_household"`
	FromMember    *uuid.UUID `db:"from_member"`
	Site          uuid.UUID  `db:"site_id"`
	Window        *uuid.UUID `db:"window_id"`
	Pledge        *uuid.UUID `db:"pledge_id"`
	Entry         uuid.UUID  `db:"entry_id"`
	Method        string     `db:"method"`
	EnteredValue  string     `db:"entered_value"`
	EnteredUnit   string     `db:"entered_unit"`
	TareValue     string     `db:"tare_value"`
	TareUnit      string     `db:"tare_unit"`
	GrossG        *int64     `db:"gross_g"`
	TareG         *int64     `db:"tare_g"`
	NetG          int64      `db:"net_g"`
	ContainerID   *uuid.UUID `db:"container_id"`
	Container     string     `db:"container"`
	ContainerML   *int64     `db:"container_ml"`
	Containers    *int       `db:"containers"`
	FillPct       *int       `db:"fill_pct"`
	DensityGPerL  *float64   `db:"density_g_per_l"`
	RelSD         int        `db:"rel_sd_permille"`
	Place         string     `db:"place"`
	UseBy         date       `db:"use_by"`
	Status        string     `db:"status"`
	Reason        string     `db:"rejection_reason"`
	Notice        string     `db:"notice"`
	Note          string     `db:"note"`
	ReceivedAt    time.Time  `db:"received_at"`
	ReceivedOn    date       `db:"received_on"`
	RecordedAt    time.Time  `db:"recorded_at"`
	RecordedBy    *uuid.UUID `db:"recorded_by"`
	Version       int        `db:"version"`
	OnHand        int64      `db:"on_hand_g"`
}

func (r lotRow) lot() (LotOnHand, error) {
	entered := measure.Quantity{Value: r.EnteredValue, Unit: measure.Unit(r.EnteredUnit)}
	e := farm.Entered{Method: farm.MassMethod(r.Method), ContainerID: idOf(r.ContainerID), Container: r.Container, Count: orZero(r.Containers),
		FillPct: orZero(r.FillPct), DensityGPerL: orZero(r.DensityGPerL), RelSDPermille: r.RelSD,
		Tare: measure.Quantity{Value: r.TareValue, Unit: measure.Unit(r.TareUnit)}}
	if e.Method == farm.ByContainer {
		e.Each = entered
	} else {
		e.Gross = entered
	}
	return LotOnHand{Lot: farm.Lot{
		ID: r.ID, ParentID: idOf(r.Parent), Material: r.Material, FromHousehold: idOf(r.FromHousehold),
		FromMember: idOf(r.FromMember), SiteID: r.Site, WindowID: idOf(r.Window), PledgeID: idOf(r.Pledge), EntryID: r.Entry, Entered: e,
		Weight: farm.Weight{Gross: measure.Grams(orZero(r.GrossG)), Tare: measure.Grams(orZero(r.TareG)),
			Net: measure.Grams(r.NetG), ContainerML: measure.Millilitres(orZero(r.ContainerML)),
			DensityGPerL: orZero(r.DensityGPerL), RelSDPermille: r.RelSD},
		Place: farm.StoragePlace(r.Place), UseBy: r.UseBy.Day, Status: farm.LotStatus(r.Status),
		RejectionReason: r.Reason, Notice: r.Notice, Note: r.Note, ReceivedAt: r.ReceivedAt.UTC(), ReceivedOn: r.ReceivedOn.Day,
		RecordedAt: r.RecordedAt.UTC(), RecordedBy: idOf(r.RecordedBy), Version: r.Version,
	}, OnHand: measure.Grams(r.OnHand)}, nil
}

// What is left is looked up lot by lot. As a plain join it would read all of the
// garden's heads: under row security a key that is put together by functions
// which are not leakproof can't be looked up in a joined table. OFFSET 0 keeps
// the planner from making a join of it.
const selectLot = `
	SELECT l.lot_id, l.parent_id, l.material, l.from_household, l.from_member, l.site_id, l.window_id, l.pledge_id, l.entry_id, l.method,
	       l.entered_value, l.entered_unit, l.tare_value, l.tare_unit, l.gross_g, l.tare_g, l.net_g, l.container_id, l.container,
	       l.container_ml, l.containers, l.fill_pct, l.density_g_per_l, l.rel_sd_permille, l.place, l.use_by, l.status,
	       l.rejection_reason, l.notice, l.note, l.received_at, l.received_on, l.recorded_at, l.recorded_by, l.version,
	       coalesce(h.latest_g, 0) AS on_hand_g
	  FROM midden.lots l LEFT JOIN LATERAL (SELECT s.latest_g FROM midden.stock_heads s WHERE s.garden_id = midden.garden()
	       AND s.account = 'lot:' || l.lot_id AND s.substance = 'scraps/' || l.material OFFSET 0) h ON true
	 WHERE l.garden_id = midden.garden()`

// Lot asks for one lot with what is left of it.
func (b *Batch) Lot(id uuid.UUID) *Row[LotOnHand] {
	return fetchOne(b, lotRow.lot, selectLot+` AND l.lot_id = $1`, id)
}

// LotsByID asks for several lots, in the order of their ids.
func (b *Batch) LotsByID(ids []uuid.UUID) *Rows[LotOnHand] {
	return fetchAll(b, lotRow.lot, selectLot+` AND l.lot_id = ANY($1) ORDER BY l.lot_id`, ids)
}

// LockLots is LotsByID with the rows held for an update, always in the same
// order. What is left is read after the lock.
func (tx *Tx) LockLots(ids ...uuid.UUID) *Rows[LotOnHand] {
	tx.queue(`SELECT 1 FROM midden.lots WHERE garden_id = midden.garden() AND lot_id = ANY($1) ORDER BY lot_id FOR UPDATE`, ids)
	return tx.LotsByID(ids)
}

// LotContent asks for the digest of what a lot was made from.
func (b *Batch) LotContent(id uuid.UUID) *Row[[]byte] {
	return fetchValue[[]byte](b, `SELECT content_sha256 FROM midden.lots WHERE garden_id = midden.garden() AND lot_id = $1`, id)
}

// LotFilter narrows a list of lots. Zero fields do not narrow.
type LotFilter struct {
	Status        farm.LotStatus
	Material      string
	SiteID        uuid.UUID
	Place         farm.StoragePlace
	FromHousehold uuid.UUID
	FromMember    uuid.UUID
	WindowID      uuid.UUID
	ParentID      uuid.UUID
	OnHand        bool        // only lots with something left
	From, Until   measure.Day // day received: From is in, Until is not
	UseBefore     measure.Day // with a use-by day before this one
}

// Lots asks for lots, the latest first.
func (b *Batch) Lots(f LotFilter, p Page) *Paged[LotOnHand] {
	return paged(b, "lots", f, p, func(at []string, limit int) *Rows[LotOnHand] {
		return fetchAll(b, lotRow.lot, selectLot+`
			AND ($1::text IS NULL OR l.status = $1) AND ($2::text IS NULL OR l.material = $2)
			AND ($3::uuid IS NULL OR l.site_id = $3) AND ($4::text IS NULL OR l.place = $4)
			AND ($5::uuid IS NULL OR l.from_household = $5) AND ($6::uuid IS NULL OR l.from_member = $6)
			AND ($7::uuid IS NULL OR l.window_id = $7) AND ($8::uuid IS NULL OR l.parent_id = $8)
			AND (NOT $9 OR h.latest_g > 0)
			AND ($10::date IS NULL OR l.received_on >= $10) AND ($11::date IS NULL OR l.received_on < $11)
			AND ($12::date IS NULL OR l.use_by < $12)
			AND ($13::timestamptz IS NULL OR (l.received_at, l.lot_id) < ($13, $14::uuid))
			ORDER BY l.received_at DESC, l.lot_id DESC LIMIT $15`,
			orNull(string(f.Status)), orNull(f.Material), idOrNull(f.SiteID), orNull(string(f.Place)),
			idOrNull(f.FromHousehold), idOrNull(f.FromMember), idOrNull(f.WindowID), idOrNull(f.ParentID),
			f.OnHand, dayArg(f.From), dayArg(f.Until), dayArg(f.UseBefore), timeKey(at, 0), keyAt(at, 1), limit)
	}, func(l LotOnHand) []string { return []string{l.ReceivedAt.Format(time.RFC3339Nano), l.ID.String()} })
}

// InsertLot writes a new lot and its first storage place.
func (tx *Tx) InsertLot(l farm.Lot, content [32]byte) {
	value := l.Entered.Gross
	if l.Entered.Method == farm.ByContainer {
		value = l.Entered.Each
	}
	w := l.Weight
	tx.queue(`
		INSERT INTO midden.lots (garden_id, lot_id, parent_id, material, from_household, from_member, site_id, window_id,
		       method, entered_value, entered_unit, tare_value, tare_unit, gross_g, tare_g, net_g, container, container_ml,
		       containers, fill_pct, density_g_per_l, rel_sd_permille, place, use_by, status, rejection_reason, note,
		       received_at, received_on, recorded_at, recorded_by, version, content_sha256, pledge_id, notice, entry_id, container_id)
		VALUES (midden.garden(), $1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17, $18, $19,
		       $20, $21, $22, $23, $24, $25, $26, $27, $28, $29, $30, 1, $31, $32, $33, $34, $35)`,
		l.ID, idOrNull(l.ParentID), l.Material, idOrNull(l.FromHousehold), idOrNull(l.FromMember), l.SiteID, idOrNull(l.WindowID),
		string(l.Entered.Method), value.Value, string(value.Unit), l.Entered.Tare.Value, string(l.Entered.Tare.Unit),
		orNull(int64(w.Gross)), orNull(int64(w.Tare)), int64(w.Net), l.Entered.Container, orNull(int64(w.ContainerML)),
		orNull(l.Entered.Count), orNull(l.Entered.FillPct), orNull(w.DensityGPerL), w.RelSDPermille, string(l.Place),
		dayArg(l.UseBy), string(l.Status), l.RejectionReason, l.Note, l.ReceivedAt, dayArg(l.ReceivedOn), l.RecordedAt,
		idOrNull(l.RecordedBy), content[:], idOrNull(l.PledgeID), l.Notice, l.EntryID, idOrNull(l.Entered.ContainerID))
}

// UpdateLot writes what may change of a lot whose row is locked: status,
// reason, site, place, use-by day and note. The version goes up by one.
func (tx *Tx) UpdateLot(l farm.Lot) {
	tx.queue(`
		UPDATE midden.lots SET status = $2, rejection_reason = $3, site_id = $4, place = $5, use_by = $6, note = $7, notice = $8, version = version + 1
		 WHERE garden_id = midden.garden() AND lot_id = $1`,
		l.ID, string(l.Status), l.RejectionReason, l.SiteID, string(l.Place), dayArg(l.UseBy), l.Note, l.Notice)
}

// LotPlace is where a lot was kept from an instant on.
type LotPlace struct {
	ID      uuid.UUID
	LotID   uuid.UUID
	SiteID  uuid.UUID
	Place   farm.StoragePlace
	UseBy   measure.Day
	MovedAt time.Time
	MovedBy uuid.UUID
}

// InsertLotPlace notes a storage place in a lot's history.
func (tx *Tx) InsertLotPlace(p LotPlace) {
	tx.queue(`
		INSERT INTO midden.lot_places (garden_id, move_id, lot_id, site_id, place, use_by, moved_at, moved_by)
		VALUES (midden.garden(), $1, $2, $3, $4, $5, $6, $7)`,
		p.ID, p.LotID, p.SiteID, string(p.Place), dayArg(p.UseBy), p.MovedAt, idOrNull(p.MovedBy))
}

type lotPlaceRow struct {
	ID      uuid.UUID  `db:"move_id"`
	Lot     uuid.UUID  `db:"lot_id"`
	Site    uuid.UUID  `db:"site_id"`
	Place   string     `db:"place"`
	UseBy   date       `db:"use_by"`
	MovedAt time.Time  `db:"moved_at"`
	MovedBy *uuid.UUID `db:"moved_by"`
}

func (r lotPlaceRow) place() (LotPlace, error) {
	return LotPlace{r.ID, r.Lot, r.Site, farm.StoragePlace(r.Place), r.UseBy.Day, r.MovedAt.UTC(), idOf(r.MovedBy)}, nil
}

// LotPlaces asks for every place a lot has had, oldest first.
func (b *Batch) LotPlaces(lot uuid.UUID) *Rows[LotPlace] {
	return fetchAll(b, lotPlaceRow.place, `
		SELECT move_id, lot_id, site_id, place, use_by, moved_at, moved_by FROM midden.lot_places
		 WHERE garden_id = midden.garden() AND lot_id = $1 ORDER BY moved_at, move_id`, lot)
}

// LotContent is the digest of what a lot was made from.
type LotContent struct {
	ID     uuid.UUID `db:"lot_id"`
	SHA256 []byte    `db:"content_sha256"`
}

func (c LotContent) itself() (LotContent, error) { return c, nil }

// LotContents asks which of these lots are there, and what from.
func (b *Batch) LotContents(ids []uuid.UUID) *Rows[LotContent] {
	return fetchAll(b, LotContent.itself, `SELECT lot_id, content_sha256 FROM midden.lots
		WHERE garden_id = midden.garden() AND lot_id = ANY($1)`, ids)
}
