package store

import (
	"strconv"
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
)

type acceptanceRow struct {
	Version   int        `db:"version"`
	Accepted  []string   `db:"accepted"`
	Refused   []string   `db:"refused"`
	ValidFrom date       `db:"valid_from"`
	Note      string     `db:"note"`
	CreatedAt time.Time  `db:"created_at"`
	CreatedBy *uuid.UUID `db:"created_by"`
}

func (r acceptanceRow) list() (farm.AcceptanceList, error) {
	return farm.AcceptanceList{Version: r.Version, Accepted: r.Accepted, Refused: r.Refused, ValidFrom: r.ValidFrom.Day,
		Note: r.Note, CreatedAt: r.CreatedAt.UTC(), CreatedBy: idOf(r.CreatedBy)}, nil
}

// AcceptanceLists asks for the versions of the acceptance list, the newest first.
func (b *Batch) AcceptanceLists(p Page) *Paged[farm.AcceptanceList] {
	return paged(b, "acceptance lists", "", p, func(at []string, limit int) *Rows[farm.AcceptanceList] {
		return fetchAll(b, acceptanceRow.list, `
			SELECT version, accepted, refused, valid_from, note, created_at, created_by FROM midden.acceptance_lists
			 WHERE garden_id = midden.garden() AND ($1::text IS NULL OR version < $1::integer)
			 ORDER BY version DESC LIMIT $2`, keyAt(at, 0), limit)
	}, func(l farm.AcceptanceList) []string { return []string{strconv.Itoa(l.Version), ""} })
}

// LatestAcceptance asks for the number of the newest version, 0 for none.
// Whoever adds the next one holds the garden's row, so that numbers have no twins.
func (b *Batch) LatestAcceptance() *Row[int] {
	return fetchValue[int](b, `SELECT coalesce(max(version), 0) FROM midden.acceptance_lists WHERE garden_id = midden.garden()`)
}

// InsertAcceptance writes a new version.
func (tx *Tx) InsertAcceptance(l farm.AcceptanceList) {
	tx.queue(`
		INSERT INTO midden.acceptance_lists (garden_id, version, accepted, refused, valid_from, note, created_at, created_by)
		VALUES (midden.garden(), $1, $2, $3, $4, $5, $6, $7)`,
		l.Version, orEmpty(l.Accepted), orEmpty(l.Refused), dayArg(l.ValidFrom), l.Note, l.CreatedAt, idOrNull(l.CreatedBy))
}

// orEmpty is the list, never NULL.
func orEmpty[T any](list []T) []T {
	if list == nil {
		return []T{}
	}
	return list
}

type notTodayRow struct {
	Groups  []string `db:"groups"`
	Until   date     `db:"until"`
	Version int      `db:"version"`
}

func (r notTodayRow) notToday() (farm.NotToday, error) {
	n := farm.NotToday{Until: r.Until.Day, Version: r.Version}
	for _, g := range r.Groups {
		n.Groups = append(n.Groups, farm.Group(g))
	}
	return n, nil
}

const selectNotToday = `SELECT groups, until, version FROM midden.not_today WHERE garden_id = midden.garden()`

// NotToday asks for the groups not taken for now; no row when nobody ever said.
func (b *Batch) NotToday() *Row[farm.NotToday] {
	return fetchOne(b, notTodayRow.notToday, selectNotToday)
}

// LockNotToday is NotToday with the row held for an update.
func (tx *Tx) LockNotToday() *Row[farm.NotToday] {
	return fetchOne(&tx.Batch, notTodayRow.notToday, selectNotToday+` FOR UPDATE`)
}

// PutNotToday writes the groups not taken for now; version 1 is a new row. Two
// who write the first one at once don't overwrite each other: one looks again.
func (tx *Tx) PutNotToday(n farm.NotToday, now time.Time) {
	groups := []string{}
	for _, g := range n.Groups {
		groups = append(groups, string(g))
	}
	sql := `UPDATE midden.not_today SET groups = $1, until = $2, updated_at = $3, version = $4 WHERE garden_id = midden.garden()`
	if n.Version == 1 {
		sql = `INSERT INTO midden.not_today (garden_id, groups, until, updated_at, version) VALUES (midden.garden(), $1, $2, $3, $4)`
	}
	tx.queue(sql, groups, dayArg(n.Until), now, n.Version)
}
