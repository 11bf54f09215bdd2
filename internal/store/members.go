package store

import (
	"context"
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
	Garden    uuid.UUID  `db:"garden_id"`
	ID        uuid.UUID  `db:"member_id"`
	Account   *uuid.UUID `db:"account_id"`
	Role      string     `db:"role"`
	Name      string     `db:"display_name"`
	Household *uuid.UUID `db:"household_id"`
	Active    bool       `db:"active"`
	CreatedAt time.Time  `db:"created_at"`
	Version   int        `db:"version"`
}

func (r memberRow) member() (farm.Member, error) {
	return farm.Member{ID: r.ID, AccountID: idOf(r.Account), Role: farm.Role(r.Role), DisplayName: r.Name,
		HouseholdID: idOf(r.Household), Active: r.Active, CreatedAt: r.CreatedAt.UTC(), Version: r.Version}, nil
}

type gardenMember struct {
	garden uuid.UUID
	member farm.Member
}

func (r memberRow) ofGarden() (gardenMember, error) {
	m, err := r.member()
	return gardenMember{r.Garden, m}, err
}

const selectMember = `SELECT garden_id, member_id, account_id, role, display_name, household_id, active, created_at, version FROM midden.memberships`

func (b *Batch) ownMembership() *Row[farm.Member] {
	return fetchOne(b, memberRow.member, selectMember+` WHERE garden_id = midden.garden() AND account_id = midden.account() AND active`)
}

// Member asks for one member of the garden.
func (b *Batch) Member(id uuid.UUID) *Row[farm.Member] {
	return fetchOne(b, memberRow.member, selectMember+` WHERE garden_id = midden.garden() AND member_id = $1`, id)
}

// LockMember is Member with the row held for an update.
func (tx *Tx) LockMember(id uuid.UUID) *Row[farm.Member] {
	return fetchOne(&tx.Batch, memberRow.member, selectMember+` WHERE garden_id = midden.garden() AND member_id = $1 FOR UPDATE`, id)
}

// LockCoordinators holds every active coordinator's row, so that two of them
// can't step down at once and leave the garden without one.
func (tx *Tx) LockCoordinators() *Rows[farm.Member] {
	return fetchAll(&tx.Batch, memberRow.member, selectMember+`
		WHERE garden_id = midden.garden() AND role = 'coordinator' AND active ORDER BY member_id FOR UPDATE`)
}

// MemberContent asks for the digest of what a member was made from.
func (b *Batch) MemberContent(id uuid.UUID) *Row[[]byte] {
	return fetchValue[[]byte](b, `SELECT content_sha256 FROM midden.memberships WHERE garden_id = midden.garden() AND member_id = $1`, id)
}

// MemberFilter narrows a list of members. Zero fields do not narrow.
type MemberFilter struct {
	Role     farm.Role
	Inactive bool   // include those who left
	Prefix   string // of the name
}

// Members lists members by name.
func (s *Store) Members(ctx context.Context, sc Scope, f MemberFilter, p Page) (List[farm.Member], error) {
	list := listName("members", sc.Garden, f)
	at, err := s.ReadCursor(list, p.Cursor, 2)
	if err != nil {
		return List[farm.Member]{}, err
	}
	low, high := prefixRange(f.Prefix)
	var rows *Rows[farm.Member]
	err = s.Read(ctx, sc, func(b *Batch) {
		rows = fetchAll(b, memberRow.member, selectMember+`
			WHERE garden_id = midden.garden() AND (active OR $1) AND ($2::text IS NULL OR role = $2)
			  AND name_folded >= $3 AND ($4::text IS NULL OR name_folded < $4)
			  AND ($5::text IS NULL OR (name_folded, member_id) > ($5, $6::uuid))
			ORDER BY name_folded, member_id LIMIT $7`,
			f.Inactive, orNull(string(f.Role)), low, high, keyAt(at, 0), keyAt(at, 1), p.Size()+1)
	})
	if err != nil {
		return List[farm.Member]{}, err
	}
	return cut(s, list, p, rows.Values, func(m farm.Member) []string {
		return []string{farm.Fold(m.DisplayName), m.ID.String()}
	}), nil
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
