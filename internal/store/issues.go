package store

import (
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
)

var (
	_ = refuseOn("issues_pkey", "id.taken", "/id", "id: something else has this id")
	_ = refuseOn("issues_site_fkey", "site.not_found", "/site_id", "site_id: no such site in this garden")
	_ = refuseOn("issues_bin_fkey", "bin.not_found", "/bin_id", "bin_id: no such bin in this garden")
	_ = refuseOn("issues_action_by_fkey", "member.not_found", "/action_by_member_id", "action_by_member_id: no such member in this garden")
)

type issueRow struct {
	ID         uuid.UUID  `db:"issue_id"`
	Class      string     `db:"class"`
	Kind       string     `db:"kind"`
	What       string     `db:"what"`
	Site       *uuid.UUID `db:"site_id"`
	Bin        *uuid.UUID `db:"bin_id"`
	Action     string     `db:"action"`
	ActionBy   *uuid.UUID `db:"action_by"`
	ClosedOn   date       `db:"closed_on"`
	OccurredAt time.Time  `db:"occurred_at"`
	Day        date       `db:"day"`
	RecordedAt time.Time  `db:"recorded_at"`
	RecordedBy uuid.UUID  `db:"recorded_by"`
	Version    int        `db:"version"`
}

func (r issueRow) issue() (farm.Issue, error) {
	return farm.Issue{ID: r.ID, Class: farm.IssueClass(r.Class), Kind: r.Kind, What: r.What, SiteID: idOf(r.Site), BinID: idOf(r.Bin),
		Action: r.Action, ActionBy: idOf(r.ActionBy), ClosedOn: r.ClosedOn.Day, OccurredAt: r.OccurredAt.UTC(), Day: r.Day.Day,
		RecordedAt: r.RecordedAt.UTC(), RecordedBy: r.RecordedBy, Version: r.Version}, nil
}

const selectIssue = `
	SELECT i.issue_id, i.class, i.kind, i.what, i.site_id, i.bin_id, i.action, i.action_by, i.closed_on, i.occurred_at, i.day,
	       i.recorded_at, i.recorded_by, i.version
	  FROM midden.issues i WHERE i.garden_id = midden.garden() AND i.class = $1`

// Issue asks for one complaint, incident or official visit.
func (b *Batch) Issue(class farm.IssueClass, id uuid.UUID) *Row[farm.Issue] {
	return fetchOne(b, issueRow.issue, selectIssue+` AND i.issue_id = $2`, string(class), id)
}

// LockIssue is Issue with the row held for an update.
func (tx *Tx) LockIssue(class farm.IssueClass, id uuid.UUID) *Row[farm.Issue] {
	return fetchOne(&tx.Batch, issueRow.issue, selectIssue+` AND i.issue_id = $2 FOR UPDATE`, string(class), id)
}

// IssueContent asks for the digest of what an issue was made from.
func (b *Batch) IssueContent(class farm.IssueClass, id uuid.UUID) *Row[[]byte] {
	return fetchValue[[]byte](b, `SELECT content_sha256 FROM midden.issues
		WHERE garden_id = midden.garden() AND class = $1 AND issue_id = $2`, string(class), id)
}

// IssueFilter narrows a list of one class. Zero fields do not narrow.
type IssueFilter struct {
	Class        farm.IssueClass
	Open, Closed bool
	From, Until  measure.Day // day it happened: From is in, Until is not
}

// Issues asks for the issues of a class, the newest first.
func (b *Batch) Issues(f IssueFilter, p Page) *Paged[farm.Issue] {
	from, until := instantsOf(f.From, f.Until)
	return paged(b, "issues", f, p, func(at []string, limit int) *Rows[farm.Issue] {
		return fetchAll(b, issueRow.issue, selectIssue+`
			AND (NOT $2 OR i.closed_on IS NULL) AND (NOT $3 OR i.closed_on IS NOT NULL)
			AND ($4::date IS NULL OR i.day >= $4) AND ($5::date IS NULL OR i.day < $5)
			AND ($6::timestamptz IS NULL OR i.occurred_at >= $6) AND ($7::timestamptz IS NULL OR i.occurred_at < $7)
			AND ($8::timestamptz IS NULL OR (i.occurred_at, i.issue_id) < ($8, $9::uuid))
			ORDER BY i.occurred_at DESC, i.issue_id DESC LIMIT $10`,
			string(f.Class), f.Open, f.Closed, dayArg(f.From), dayArg(f.Until), from, until, timeKey(at, 0), keyAt(at, 1), limit)
	}, func(i farm.Issue) []string { return []string{i.OccurredAt.Format(time.RFC3339Nano), i.ID.String()} })
}

// InsertIssue writes a new issue.
func (tx *Tx) InsertIssue(i farm.Issue, content [32]byte) {
	tx.queue(`
		INSERT INTO midden.issues (garden_id, issue_id, class, kind, what, site_id, bin_id, action, action_by, closed_on,
		       occurred_at, day, recorded_at, recorded_by, version, content_sha256)
		VALUES (midden.garden(), $1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, 1, $14)`,
		append(issueArgs(i), i.OccurredAt, dayArg(i.Day), i.RecordedAt, i.RecordedBy, content[:])...)
}

// UpdateIssue writes an issue whose row is locked; the version goes up by one.
func (tx *Tx) UpdateIssue(i farm.Issue) {
	tx.queue(`
		UPDATE midden.issues SET kind = $3, what = $4, site_id = $5, bin_id = $6, action = $7, action_by = $8, closed_on = $9,
		       version = version + 1
		 WHERE garden_id = midden.garden() AND issue_id = $1 AND class = $2`, issueArgs(i)...)
}

func issueArgs(i farm.Issue) []any {
	return []any{i.ID, string(i.Class), i.Kind, i.What, idOrNull(i.SiteID), idOrNull(i.BinID), i.Action, idOrNull(i.ActionBy), dayArg(i.ClosedOn)}
}
