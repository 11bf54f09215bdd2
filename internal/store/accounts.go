package store

import (
	"context"
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
)

var (
	_ = refuseOn("accounts_pkey", "account.exists", "/id", "id: another account has this id")
	_ = refuseOn("accounts_email_key", "account.email_taken", "/email", "email: another account has this address")
)

type accountRow struct {
	ID           uuid.UUID  `db:"id"`
	Email        string     `db:"email"`
	DisplayName  string     `db:"display_name"`
	PasswordHash string     `db:"password_hash"`
	MayFound     bool       `db:"may_found_gardens"`
	DisabledAt   *time.Time `db:"disabled_at"`
	CreatedAt    time.Time  `db:"created_at"`
	Version      int        `db:"version"`
}

func (r accountRow) account() (farm.Account, error) {
	return farm.Account{ID: r.ID, Email: r.Email, DisplayName: r.DisplayName, PasswordHash: r.PasswordHash,
		MayFound: r.MayFound, DisabledAt: timeOf(r.DisabledAt), CreatedAt: r.CreatedAt.UTC(), Version: r.Version}, nil
}

const selectAccount = `SELECT id, email, display_name, password_hash, may_found_gardens, disabled_at, created_at, version FROM midden.accounts`

// Account asks for one account.
func (b *Batch) Account(id uuid.UUID) *Row[farm.Account] {
	return fetchOne(b, accountRow.account, selectAccount+` WHERE id = $1`, id)
}

// AccountByEmail asks for the account with an address, in any case of letters.
func (b *Batch) AccountByEmail(email string) *Row[farm.Account] {
	return fetchOne(b, accountRow.account, selectAccount+` WHERE email_folded = $1`, farm.Fold(email))
}

// FindAccount reads one account; found is false when there is none.
func (s *Store) FindAccount(ctx context.Context, id uuid.UUID) (a farm.Account, found bool, err error) {
	var row *Row[farm.Account]
	err = s.Read(ctx, Scope{}, func(b *Batch) { row = b.Account(id) })
	if err != nil {
		return farm.Account{}, false, err
	}
	return row.Value, row.Found, nil
}

// FindAccountByEmail reads the account with an address.
func (s *Store) FindAccountByEmail(ctx context.Context, email string) (a farm.Account, found bool, err error) {
	var row *Row[farm.Account]
	err = s.Read(ctx, Scope{}, func(b *Batch) { row = b.AccountByEmail(email) })
	if err != nil {
		return farm.Account{}, false, err
	}
	return row.Value, row.Found, nil
}

// InsertAccount writes a new account; account.email_taken when its address is.
func (tx *Tx) InsertAccount(a farm.Account) {
	tx.queue(`
		INSERT INTO midden.accounts (id, email, email_folded, display_name, password_hash, disabled_at, created_at, may_found_gardens, version)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, 1)`,
		a.ID, a.Email, farm.Fold(a.Email), a.DisplayName, a.PasswordHash, timeOrNull(a.DisabledAt), a.CreatedAt, a.MayFound)
}

// LockAccount is Account with the row held for an update.
func (tx *Tx) LockAccount(id uuid.UUID) *Row[farm.Account] {
	return fetchOne(&tx.Batch, accountRow.account, selectAccount+` WHERE id = $1 FOR UPDATE`, id)
}

// UpdateAccount writes an account whose row is locked; the version goes up by one.
func (tx *Tx) UpdateAccount(a farm.Account) {
	tx.queue(`
		UPDATE midden.accounts SET email = $2, email_folded = $3, display_name = $4, password_hash = $5, disabled_at = $6,
		       may_found_gardens = $7, version = version + 1 WHERE id = $1`,
		a.ID, a.Email, farm.Fold(a.Email), a.DisplayName, a.PasswordHash, timeOrNull(a.DisabledAt), a.MayFound)
}

type sessionRow struct {
	ID          uuid.UUID  `db:"id"`
	Account     uuid.UUID  `db:"account_id"`
	Family      uuid.UUID  `db:"family_id"`
	RefreshHash []byte     `db:"refresh_hash"`
	Device      string     `db:"device"`
	CreatedAt   time.Time  `db:"created_at"`
	ExpiresAt   time.Time  `db:"expires_at"`
	UsedAt      *time.Time `db:"used_at"`
	RevokedAt   *time.Time `db:"revoked_at"`
}

func (r sessionRow) session() (farm.Session, error) {
	s := farm.Session{ID: r.ID, AccountID: r.Account, FamilyID: r.Family, Device: r.Device, CreatedAt: r.CreatedAt.UTC(),
		ExpiresAt: r.ExpiresAt.UTC(), UsedAt: timeOf(r.UsedAt), RevokedAt: timeOf(r.RevokedAt)}
	copy(s.RefreshHash[:], r.RefreshHash)
	return s, nil
}

const selectSession = `SELECT id, account_id, family_id, refresh_hash, device, created_at, expires_at, used_at, revoked_at FROM midden.sessions`

// Session asks for one session.
func (b *Batch) Session(id uuid.UUID) *Row[farm.Session] {
	return fetchOne(b, sessionRow.session, selectSession+` WHERE id = $1`, id)
}

// SessionsOf asks for a person's sessions, newest first.
func (b *Batch) SessionsOf(account uuid.UUID) *Rows[farm.Session] {
	return fetchAll(b, sessionRow.session, selectSession+` WHERE account_id = $1 ORDER BY created_at DESC, id`, account)
}

// LockSessionByRefresh asks for the session with a refresh token's hash and
// holds its row, so that one token is exchanged once.
func (tx *Tx) LockSessionByRefresh(hash [32]byte) *Row[farm.Session] {
	return fetchOne(&tx.Batch, sessionRow.session, selectSession+` WHERE refresh_hash = $1 FOR UPDATE`, hash[:])
}

// InsertSession writes a new session.
func (tx *Tx) InsertSession(x farm.Session) {
	tx.queue(`
		INSERT INTO midden.sessions (id, account_id, family_id, refresh_hash, device, created_at, expires_at, used_at, revoked_at)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)`,
		x.ID, x.AccountID, x.FamilyID, x.RefreshHash[:], x.Device, x.CreatedAt, x.ExpiresAt, timeOrNull(x.UsedAt), timeOrNull(x.RevokedAt))
}

// MarkSessionUsed notes that a session's refresh token was exchanged.
func (tx *Tx) MarkSessionUsed(id uuid.UUID, at time.Time) {
	tx.queue(`UPDATE midden.sessions SET used_at = $2 WHERE id = $1 AND used_at IS NULL`, id, at)
}

// RevokeFamily ends every session that came from one sign-in.
func (tx *Tx) RevokeFamily(family uuid.UUID, at time.Time) {
	tx.queue(`UPDATE midden.sessions SET revoked_at = $2 WHERE family_id = $1 AND revoked_at IS NULL`, family, at)
}

// RevokeSessionsOf ends every session of a person but those of one family;
// the zero family keeps none.
func (tx *Tx) RevokeSessionsOf(account, keep uuid.UUID, at time.Time) {
	tx.queue(`UPDATE midden.sessions SET revoked_at = $3 WHERE account_id = $1 AND family_id <> $2 AND revoked_at IS NULL`, account, keep, at)
}

// ForgetSessions drops sessions that ended before an instant.
func (tx *Tx) ForgetSessions(before time.Time) {
	tx.queue(`DELETE FROM midden.sessions WHERE expires_at < $1`, before)
}
