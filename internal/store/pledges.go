package store

import (
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
)

var (
	_ = refuseOn("pledges_pkey", "pledge.exists", "/id", "id: another pledge has this id")
	_ = refuseOn("pledges_window_fkey", "window.not_found", "/window_id", "window_id: no such drop-off window in this garden")
	_ = refuseOn("pledges_site_fkey", "site.not_found", "/site_id", "site_id: no such site in this garden")
	_ = refuseOn("pledges_household_fkey", "household.not_found", "/household_id", "household_id: no such household in this garden")
)

type pledgeRow struct {
	ID          uuid.UUID   `db:"pledge_id"`
	Series      uuid.UUID   `db:"series_id"`
	RepeatWeeks int         `db:"repeat_weeks"`
	Window      *uuid.UUID  `db:"window_id"`
	ExpectedOn  date        `db:"expected_on"`
	Site        uuid.UUID   `db:"site_id"`
	Material    string      `db:"material"`
	Household   *uuid.UUID  `db:"household_id"`
	Member      *uuid.UUID  `db:"member_id"`
	Entered     *enteredDoc `db:"entered"`
	MassG       int64       `db:"mass_g"`
	RelSD       int         `db:"rel_sd_permille"`
	Status      string      `db:"status"`
	Reason      string      `db:"reason"`
	Note        string      `db:"note"`
	PromisedAt  time.Time   `db:"promised_at"`
	PromisedOn  date        `db:"promised_on"`
	RecordedAt  time.Time   `db:"recorded_at"`
	RecordedBy  *uuid.UUID  `db:"recorded_by"`
	DecidedAt   *time.Time  `db:"decided_at"`
	DecidedBy   *uuid.UUID  `db:"decided_by"`
}

func (r pledgeRow) pledge() (farm.Pledge, error) {
	return farm.Pledge{ID: r.ID, SeriesID: r.Series, RepeatWeeks: r.RepeatWeeks, WindowID: idOf(r.Window), ExpectedOn: r.ExpectedOn.Day,
		SiteID: r.Site, Material: r.Material, HouseholdID: idOf(r.Household), MemberID: idOf(r.Member), Entered: *r.Entered.entered(),
		Mass: measure.Grams(r.MassG), RelSD: r.RelSD, Status: farm.PledgeStatus(r.Status), Reason: r.Reason, Note: r.Note,
		PromisedAt: r.PromisedAt.UTC(), PromisedOn: r.PromisedOn.Day, RecordedAt: r.RecordedAt.UTC(), RecordedBy: idOf(r.RecordedBy),
		DecidedAt: timeOf(r.DecidedAt), DecidedBy: idOf(r.DecidedBy)}, nil
}

const selectPledge = `
	SELECT p.pledge_id, p.series_id, p.repeat_weeks, p.window_id, p.expected_on, p.site_id, p.material, p.household_id, p.member_id,
	       p.entered, p.mass_g, p.rel_sd_permille, p.status, p.reason, p.note, p.promised_at, p.promised_on, p.recorded_at,
	       p.recorded_by, p.decided_at, p.decided_by
	  FROM midden.pledges p`

// Pledge asks for one pledge of the garden.
func (b *Batch) Pledge(id uuid.UUID) *Row[farm.Pledge] {
	return fetchOne(b, pledgeRow.pledge, selectPledge+` WHERE p.garden_id = midden.garden() AND p.pledge_id = $1`, id)
}

// LockPledge is Pledge with the row held for an update.
func (tx *Tx) LockPledge(id uuid.UUID) *Row[farm.Pledge] {
	return fetchOne(&tx.Batch, pledgeRow.pledge, selectPledge+` WHERE p.garden_id = midden.garden() AND p.pledge_id = $1 FOR NO KEY UPDATE`, id)
}

// PledgeContent asks for the digest of what a pledge was made from.
func (b *Batch) PledgeContent(id uuid.UUID) *Row[[]byte] {
	return fetchValue[[]byte](b, `SELECT content_sha256 FROM midden.pledges WHERE garden_id = midden.garden() AND pledge_id = $1`, id)
}

// PledgeFilter narrows a list of pledges. Zero fields do not narrow.
type PledgeFilter struct {
	WindowID    uuid.UUID
	Status      farm.PledgeStatus
	From, Until measure.Day // day expected: From is in, Until is not
}

// Pledges asks for pledges, the latest first: everyone's for a person whose
// role is among all, else only their own and their household's.
func (b *Batch) Pledges(all []farm.Role, f PledgeFilter, p Page) *Paged[farm.Pledge] {
	roles := make([]string, len(all))
	for i, r := range all {
		roles[i] = string(r)
	}
	return paged(b, "pledges", f, p, func(at []string, limit int) *Rows[farm.Pledge] {
		return fetchAll(b, pledgeRow.pledge, `
			WITH me AS (SELECT member_id, household_id, role = ANY($1) AS sees_all FROM midden.memberships
			             WHERE garden_id = midden.garden() AND account_id = midden.account() AND active)`+selectPledge+`, me
			 WHERE p.garden_id = midden.garden()
			   AND (me.sees_all OR p.member_id = me.member_id OR p.household_id = me.household_id)
			   AND ($2::uuid IS NULL OR p.window_id = $2) AND ($3::text IS NULL OR p.status = $3)
			   AND ($4::date IS NULL OR p.expected_on >= $4) AND ($5::date IS NULL OR p.expected_on < $5)
			   AND ($6::timestamptz IS NULL OR (p.recorded_at, p.pledge_id) < ($6, $7::uuid))
			 ORDER BY p.recorded_at DESC, p.pledge_id DESC LIMIT $8`,
			roles, idOrNull(f.WindowID), orNull(string(f.Status)), dayArg(f.From), dayArg(f.Until), timeKey(at, 0), keyAt(at, 1), limit)
	}, func(p farm.Pledge) []string { return []string{p.RecordedAt.Format(time.RFC3339Nano), p.ID.String()} })
}

// OpenPledges asks for what is still expected in a stretch of days, by day. A
// pledge for a window that is not held is not expected.
func (b *Batch) OpenPledges(days measure.DayRange) *Rows[farm.Pledge] {
	return fetchAll(b, pledgeRow.pledge, selectPledge+`
		  LEFT JOIN midden.drop_off_windows w ON w.garden_id = p.garden_id AND w.window_id = p.window_id
		 WHERE p.garden_id = midden.garden() AND p.status IN ('offered', 'accepted')
		   AND p.expected_on >= $1 AND p.expected_on < $2 AND w.status IS DISTINCT FROM 'closed'
		 ORDER BY p.expected_on, p.pledge_id`, dayArg(days.Start), dayArg(days.End))
}

// InsertPledges writes new pledges; the first of a series comes first.
func (tx *Tx) InsertPledges(content [32]byte, list ...farm.Pledge) error {
	for _, p := range list {
		entered, err := enteredJSON(&p.Entered)
		if err != nil {
			return err
		}
		tx.queue(`
			INSERT INTO midden.pledges (garden_id, pledge_id, series_id, repeat_weeks, window_id, expected_on, site_id, material, household_id,
			       member_id, entered, mass_g, rel_sd_permille, status, reason, note, promised_at, promised_on, recorded_at, recorded_by, content_sha256)
			VALUES (midden.garden(), $1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17, $18, $19, $20)`,
			p.ID, p.SeriesID, p.RepeatWeeks, idOrNull(p.WindowID), dayArg(p.ExpectedOn), p.SiteID, p.Material, idOrNull(p.HouseholdID),
			idOrNull(p.MemberID), entered, int64(p.Mass), p.RelSD, string(p.Status), p.Reason, p.Note, p.PromisedAt, dayArg(p.PromisedOn),
			p.RecordedAt, idOrNull(p.RecordedBy), content[:])
	}
	return nil
}

// SettlePledge writes what became of a pledge whose row is locked.
func (tx *Tx) SettlePledge(p farm.Pledge) {
	tx.queue(`
		UPDATE midden.pledges SET status = $2, reason = $3, decided_at = $4, decided_by = $5
		 WHERE garden_id = midden.garden() AND pledge_id = $1`,
		p.ID, string(p.Status), p.Reason, timeOrNull(p.DecidedAt), idOrNull(p.DecidedBy))
}
