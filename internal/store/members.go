package store

import (
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
)

var (
	_ = refuseOn("memberships_pkey", "member.exists", "/id", "id: another member has this id")
	_ = refuseOn("memberships_account_key", "member.exists", "/account_id", "account_id: this person is already a member")
	_ = refuseOn("memberships_account_id_fkey", "account.not_found", "/account_id", "account_id: no such account")
	_ = refuseOn("memberships_household_fkey", "household.not_found", "/household_id", "household_id: no such household in this garden")
	_ = refuseOn("entries_actor_fkey", "member.not_found", "", "no such member in this garden")
)

type memberRow struct {
	ID        uuid.UUID  `db:"member_id"`
	Account   *uuid.UUID `db:"account_id"`
	Email     string     `db:"email"`
	Role      string     `db:"role"`
	Name      string     `db:"display_name"`
	Household *uuid.UUID `db:"household_id"`
	Active    bool       `db:"active"`
	CreatedAt time.Time  `db:"created_at"`
	Version   int        `db:"version"`
}

func (r memberRow) member() (farm.Member, error) {
	return farm.Member{ID: r.ID, AccountID: idOf(r.Account), Email: r.Email, Role: farm.Role(r.Role), DisplayName: r.Name,
		HouseholdID: idOf(r.Household), Active: r.Active, CreatedAt: r.CreatedAt.UTC(), Version: r.Version}, nil
}

// The address is the account's; the row of a member holds none.
const selectMember = `
	SELECT m.member_id, m.account_id, coalesce(a.email, '') AS email, m.role, m.display_name,
	       m.household_id, m.active, m.created_at, m.version
	  FROM midden.memberships m LEFT JOIN midden.accounts a ON a.id = m.account_id`

func (b *Batch) ownMembership() *Row[farm.Member] {
	return fetchOne(b, memberRow.member, selectMember+` WHERE m.garden_id = midden.garden() AND m.account_id = midden.account() AND m.active`)
}

// Member asks for one member of the garden.
func (b *Batch) Member(id uuid.UUID) *Row[farm.Member] {
	return fetchOne(b, memberRow.member, selectMember+` WHERE m.garden_id = midden.garden() AND m.member_id = $1`, id)
}

// MembersByID asks for several members.
func (b *Batch) MembersByID(ids []uuid.UUID) *Rows[farm.Member] {
	return fetchAll(b, memberRow.member, selectMember+` WHERE m.garden_id = midden.garden() AND m.member_id = ANY($1) ORDER BY m.member_id`, ids)
}

// LockMember is Member with the row held for an update.
func (tx *Tx) LockMember(id uuid.UUID) *Row[farm.Member] {
	return fetchOne(&tx.Batch, memberRow.member, selectMember+` WHERE m.garden_id = midden.garden() AND m.member_id = $1 FOR UPDATE OF m`, id)
}

// LockCoordinators holds every active coordinator's row, so that two of them
// can't step down at once and leave the garden without one.
func (tx *Tx) LockCoordinators() *Rows[farm.Member] {
	return fetchAll(&tx.Batch, memberRow.member, selectMember+`
		WHERE m.garden_id = midden.garden() AND m.role = 'coordinator' AND m.active ORDER BY m.member_id FOR UPDATE OF m`)
}

// MemberContent asks for the digest of what a member was made from.
func (b *Batch) MemberContent(id uuid.UUID) *Row[[]byte] {
	return fetchValue[[]byte](b, `SELECT content_sha256 FROM midden.memberships WHERE garden_id = midden.garden() AND member_id = $1`, id)
}

// Standing tells members who are there from those who left, and places in use
// from those no longer in use.
type Standing string

// Standings; the empty one is both.
const (
	Active Standing = "active"
	Left   Standing = "left"
)

// MemberFilter narrows a list of members. Zero fields do not narrow.
type MemberFilter struct {
	Role     farm.Role
	Standing Standing
	Prefix   string // of the name
}

// Members asks for members by name.
func (b *Batch) Members(f MemberFilter, p Page) *Paged[farm.Member] {
	low, high := prefixRange(f.Prefix)
	return paged(b, "members", f, p, func(at []string, limit int) *Rows[farm.Member] {
		return fetchAll(b, memberRow.member, selectMember+`
			WHERE m.garden_id = midden.garden() AND ($1::text = '' OR m.active = ($1 = 'active'))
			  AND ($2::text IS NULL OR m.role = $2)
			  AND m.name_folded >= $3 AND ($4::text IS NULL OR m.name_folded < $4)
			  AND ($5::text IS NULL OR (m.name_folded, m.member_id) > ($5, $6::uuid))
			ORDER BY m.name_folded, m.member_id LIMIT $7`,
			string(f.Standing), orNull(string(f.Role)), low, high, keyAt(at, 0), keyAt(at, 1), limit)
	}, func(m farm.Member) []string { return []string{farm.Fold(m.DisplayName), m.ID.String()} })
}

// InsertMember writes a new member.
func (tx *Tx) InsertMember(m farm.Member, content [32]byte) {
	tx.queue(`
		INSERT INTO midden.memberships (garden_id, member_id, account_id, role, display_name, name_folded,
		       household_id, active, created_at, version, content_sha256)
		VALUES (midden.garden(), $1, $2, $3, $4, $5, $6, $7, $8, 1, $9)`,
		m.ID, idOrNull(m.AccountID), string(m.Role), m.DisplayName, farm.Fold(m.DisplayName),
		idOrNull(m.HouseholdID), m.Active, m.CreatedAt, content[:])
}

// UpdateMember writes a member whose row is locked; the version goes up by one.
func (tx *Tx) UpdateMember(m farm.Member) {
	tx.queue(`
		UPDATE midden.memberships SET account_id = $2, role = $3, display_name = $4, name_folded = $5,
		       household_id = $6, active = $7, version = version + 1
		 WHERE garden_id = midden.garden() AND member_id = $1`,
		m.ID, idOrNull(m.AccountID), string(m.Role), m.DisplayName, farm.Fold(m.DisplayName),
		idOrNull(m.HouseholdID), m.Active)
}
