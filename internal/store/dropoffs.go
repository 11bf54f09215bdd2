package store

import (
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
)

var (
	_ = refuseOn("drop_off_windows_pkey", "window.exists", "/id", "id: another drop-off window has this id")
	_ = refuseOn("drop_off_windows_site_fkey", "site.not_found", "/site_id", "site_id: no such site in this garden")
	_ = refuseOn("drop_off_windows_host_fkey", "member.not_found", "/host_member_id", "host_member_id: no such member in this garden")
)

// WindowLoad is a drop-off window with what is promised for it and what came.
type WindowLoad struct {
	farm.Window
	Pledged  measure.Grams // offered and accepted, not yet kept
	Received measure.Grams // net of its lots, whatever became of them
	Site     string        // the site's name
}

type windowRow struct {
	ID            uuid.UUID  `db:"window_id"`
	Site          uuid.UUID  `db:"site_id"`
	SiteName      string     `db:"site_name"`
	StartsAt      time.Time  `db:"starts_at"`
	EndsAt        time.Time  `db:"ends_at"`
	StartsOn      date       `db:"starts_on"`
	Host          *uuid.UUID `db:"host_id"`
	CapacityValue string     `db:"capacity_value"`
	CapacityUnit  string     `db:"capacity_unit"`
	CapacityG     *int64     `db:"capacity_g"`
	Status        string     `db:"status"`
	Note          string     `db:"note"`
	CreatedAt     time.Time  `db:"created_at"`
	ChangedAt     time.Time  `db:"changed_at"`
	Version       int        `db:"version"`
	PledgedG      int64      `db:"pledged_g"`
	ReceivedG     int64      `db:"received_g"`
}

func (r windowRow) window() (WindowLoad, error) {
	return WindowLoad{Window: farm.Window{ID: r.ID, SiteID: r.Site, StartsAt: r.StartsAt.UTC(), EndsAt: r.EndsAt.UTC(), StartsOn: r.StartsOn.Day,
		HostID: idOf(r.Host), Capacity: measure.Quantity{Value: r.CapacityValue, Unit: measure.Unit(r.CapacityUnit)},
		CapacityG: measure.Grams(orZero(r.CapacityG)), Status: farm.WindowStatus(r.Status), Note: r.Note,
		CreatedAt: r.CreatedAt.UTC(), ChangedAt: r.ChangedAt.UTC(), Version: r.Version},
		Pledged: measure.Grams(r.PledgedG), Received: measure.Grams(r.ReceivedG), Site: r.SiteName}, nil
}

// A part split off a lot carries its parent's window and is not counted again;
// nor is a lot whose intake was reversed.
const selectWindow = `
	SELECT w.window_id, w.site_id, s.name AS site_name, w.starts_at, w.ends_at, w.starts_on, w.host_id, w.capacity_value,
	       w.capacity_unit, w.capacity_g, w.status, w.note, w.created_at, w.changed_at, w.version,
	       (SELECT coalesce(sum(p.mass_g), 0)::bigint FROM midden.pledges p
	         WHERE p.garden_id = midden.garden() AND p.window_id = w.window_id AND p.status IN ('offered', 'accepted')) AS pledged_g,
	       (SELECT coalesce(sum(l.net_g), 0)::bigint FROM midden.lots l
	         WHERE l.garden_id = midden.garden() AND l.window_id = w.window_id AND l.parent_id IS NULL
	           AND NOT EXISTS (SELECT FROM midden.entries r WHERE r.garden_id = midden.garden() AND r.reverses = l.entry_id)) AS received_g
	  FROM midden.drop_off_windows w JOIN midden.sites s ON s.garden_id = w.garden_id AND s.site_id = w.site_id
	 WHERE w.garden_id = midden.garden()`

// Window asks for one drop-off window with its load.
func (b *Batch) Window(id uuid.UUID) *Row[WindowLoad] {
	return fetchOne(b, windowRow.window, selectWindow+` AND w.window_id = $1`, id)
}

// LockWindow is Window with its row held, so that its load is true until the
// transaction ends: pledging holds it too.
func (tx *Tx) LockWindow(id uuid.UUID) *Row[WindowLoad] {
	// Two statements: the second one sees what the lock was waiting for. The
	// weaker lock lets lots that name the window be written meanwhile.
	tx.queue(`SELECT 1 FROM midden.drop_off_windows WHERE garden_id = midden.garden() AND window_id = $1 FOR NO KEY UPDATE`, id)
	return tx.Window(id)
}

// WindowContent asks for the digest of what a window was made from.
func (b *Batch) WindowContent(id uuid.UUID) *Row[[]byte] {
	return fetchValue[[]byte](b, `SELECT content_sha256 FROM midden.drop_off_windows WHERE garden_id = midden.garden() AND window_id = $1`, id)
}

// WindowFilter narrows a list of windows. Zero fields do not narrow.
type WindowFilter struct {
	From, Until measure.Day // day it starts: From is in, Until is not
	SiteID      uuid.UUID
	Status      farm.WindowStatus
}

// Windows asks for drop-off windows, the soonest first.
func (b *Batch) Windows(f WindowFilter, p Page) *Paged[WindowLoad] {
	return paged(b, "windows", f, p, func(at []string, limit int) *Rows[WindowLoad] {
		return fetchAll(b, windowRow.window, selectWindow+`
			AND ($1::date IS NULL OR w.starts_on >= $1) AND ($2::date IS NULL OR w.starts_on < $2)
			AND ($3::timestamptz IS NULL OR w.starts_at >= $3)
			AND ($4::uuid IS NULL OR w.site_id = $4) AND ($5::text IS NULL OR w.status = $5)
			AND ($6::timestamptz IS NULL OR (w.starts_at, w.window_id) > ($6, $7::uuid))
			ORDER BY w.starts_at, w.window_id LIMIT $8`,
			dayArg(f.From), dayArg(f.Until), startBefore(f.From), idOrNull(f.SiteID), orNull(string(f.Status)),
			timeKey(at, 0), keyAt(at, 1), limit)
	}, func(w WindowLoad) []string { return []string{w.StartsAt.Format(time.RFC3339Nano), w.ID.String()} })
}

// startBefore is an instant before any zone's start of the day, for the index
// by time; nil for no day.
func startBefore(d measure.Day) *time.Time {
	if d.IsZero() {
		return nil
	}
	t := d.Add(-1).UTC()
	return &t
}

// WindowsBetween asks for the windows that start in a stretch of time, the
// soonest first, most of them at most.
func (b *Batch) WindowsBetween(from, until time.Time, most int) *Rows[WindowLoad] {
	return fetchAll(b, windowRow.window, selectWindow+`
		AND w.starts_at >= $1 AND w.starts_at < $2 ORDER BY w.starts_at, w.window_id LIMIT $3`, from, until, most)
}

// InsertWindow writes a new drop-off window.
func (tx *Tx) InsertWindow(w farm.Window, content [32]byte) {
	tx.queue(`
		INSERT INTO midden.drop_off_windows (garden_id, window_id, site_id, starts_at, ends_at, starts_on, host_id, capacity_value,
		       capacity_unit, capacity_g, status, note, created_at, changed_at, version, content_sha256)
		VALUES (midden.garden(), $1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, 1, $14)`,
		w.ID, w.SiteID, w.StartsAt, w.EndsAt, dayArg(w.StartsOn), idOrNull(w.HostID), w.Capacity.Value, string(w.Capacity.Unit),
		orNull(int64(w.CapacityG)), string(w.Status), w.Note, w.CreatedAt, w.ChangedAt, content[:])
}

// UpdateWindow writes a window whose row is locked, and takes its open pledges
// along to its day and site; the version goes up by one.
func (tx *Tx) UpdateWindow(w farm.Window) {
	tx.queue(`
		UPDATE midden.drop_off_windows SET site_id = $2, starts_at = $3, ends_at = $4, starts_on = $5, host_id = $6, capacity_value = $7,
		       capacity_unit = $8, capacity_g = $9, status = $10, note = $11, changed_at = $12, version = version + 1
		 WHERE garden_id = midden.garden() AND window_id = $1`,
		w.ID, w.SiteID, w.StartsAt, w.EndsAt, dayArg(w.StartsOn), idOrNull(w.HostID), w.Capacity.Value, string(w.Capacity.Unit),
		orNull(int64(w.CapacityG)), string(w.Status), w.Note, w.ChangedAt)
	tx.queue(`
		UPDATE midden.pledges SET expected_on = $2, site_id = $3
		 WHERE garden_id = midden.garden() AND window_id = $1 AND status IN ('offered', 'accepted')
		   AND (expected_on, site_id) IS DISTINCT FROM ($2, $3)`, w.ID, dayArg(w.StartsOn), w.SiteID)
}
