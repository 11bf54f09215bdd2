package service

import (
	"context"
	"errors"
	"time"

	"github.com/google/uuid"

	"midden/internal/auth"
	"midden/internal/farm"
	"midden/internal/store"
)

// Tokens are what a device gets at sign-in and at each refresh.
type Tokens struct {
	Access           string
	ExpiresIn        time.Duration
	Refresh          string
	RefreshExpiresAt time.Time
}

// SignIn gives tokens to whoever knows the password. It refuses with
// login.refused, which never tells what was wrong, and with server.busy.
func (s *Service) SignIn(ctx context.Context, email, password, device string) (Tokens, error) {
	account, found, err := s.store.FindAccountByEmail(ctx, email)
	if err != nil {
		return Tokens{}, err
	}
	stored := ""
	if found && account.DisabledAt.IsZero() {
		stored = account.PasswordHash
	}
	ok, rehash, err := s.passwords.Verify(ctx, stored, password)
	if err != nil {
		return Tokens{}, err
	}
	if !ok {
		return Tokens{}, farm.Refuse("login.refused", "", "email and password do not belong together here")
	}
	fresh := ""
	if rehash {
		if fresh, err = s.passwords.Hash(ctx, password); err != nil {
			return Tokens{}, err
		}
	}
	now := s.now()
	session, refresh, err := auth.NewSession(now, account.ID, device)
	if err != nil {
		return Tokens{}, err
	}
	err = s.store.InTx(ctx, store.Scope{Account: account.ID}, func(tx *store.Tx) error {
		tx.InsertSession(session)
		if fresh == "" {
			return nil
		}
		row := tx.LockAccount(account.ID)
		if err := tx.Flush(); err != nil {
			return err
		}
		if a := row.Value; row.Found && a.PasswordHash == stored {
			a.PasswordHash = fresh
			tx.UpdateAccount(a)
		}
		return nil
	})
	if err != nil {
		return Tokens{}, err
	}
	return s.tokens(now, session, refresh)
}

func (s *Service) tokens(now time.Time, session farm.Session, refresh string) (Tokens, error) {
	if s.signer == nil {
		return Tokens{}, errors.New("service: no key to sign access tokens with")
	}
	access, expires, err := s.signer.Sign(now, session.AccountID, session.ID)
	if err != nil {
		return Tokens{}, err
	}
	return Tokens{Access: access, ExpiresIn: expires.Sub(now).Round(time.Second), Refresh: refresh, RefreshExpiresAt: session.ExpiresAt}, nil
}

// Refresh trades a refresh token for new tokens. It refuses with
// refresh.invalid, refresh.expired, refresh.revoked and refresh.reused; reuse
// ends every session of the device.
func (s *Service) Refresh(ctx context.Context, token string) (Tokens, error) {
	hash, err := auth.RefreshHash(token)
	if err != nil {
		return Tokens{}, err
	}
	now := s.now()
	var next farm.Session
	var refresh string
	var refused error
	err = s.store.InTx(ctx, store.Scope{}, func(tx *store.Tx) error {
		next, refresh, refused = farm.Session{}, "", nil
		row := tx.LockSessionByRefresh(hash)
		if err := tx.Flush(); err != nil {
			return err
		}
		if !row.Found {
			return farm.Refuse("refresh.invalid", "/refresh_token", "refresh_token: this is no refresh token of ours; sign in again")
		}
		account := tx.Account(row.Value.AccountID)
		if err := tx.Flush(); err != nil {
			return err
		}
		if !account.Found || !account.Value.DisabledAt.IsZero() {
			return farm.Refuse("refresh.revoked", "/refresh_token", "refresh_token: this session was ended; sign in again")
		}
		next, refresh, refused = auth.Rotate(now, row.Value)
		if refused != nil {
			if farm.CodeOf(refused) == "refresh.reused" {
				tx.RevokeFamily(row.Value.FamilyID, now) // kept: the refusal comes after the commit
				return nil
			}
			return refused
		}
		tx.MarkSessionUsed(row.Value.ID, now)
		tx.InsertSession(next)
		return nil
	})
	if err != nil {
		return Tokens{}, err
	}
	if refused != nil {
		return Tokens{}, refused
	}
	return s.tokens(now, next, refresh)
}

// SignOut ends the device's sessions. An access token lives on for its few minutes.
func (s *Service) SignOut(ctx context.Context, a Actor) error {
	return s.store.InTx(ctx, store.Scope{Account: a.AccountID}, func(tx *store.Tx) error {
		row := tx.Session(a.SessionID)
		if err := tx.Flush(); err != nil {
			return err
		}
		if row.Found && row.Value.AccountID == a.AccountID {
			tx.RevokeFamily(row.Value.FamilyID, s.now())
		}
		return nil
	})
}

// Me is who a person is and which gardens they are in.
type Me struct {
	Account farm.Account
	Mine    []Mine // the first store.LargestPage gardens, by name
}

// Me refuses with session.ended when the account is gone or disabled.
func (s *Service) Me(ctx context.Context, a Actor) (Me, error) {
	var account *store.Row[farm.Account]
	var mine *store.Paged[Mine]
	err := s.store.Read(ctx, store.Scope{Account: a.AccountID}, func(b *store.Batch) {
		account, mine = b.Account(a.AccountID), b.MyGardens(Page{Limit: store.LargestPage})
	})
	if err != nil {
		return Me{}, err
	}
	if !account.Found || !account.Value.DisabledAt.IsZero() {
		return Me{}, sessionEnded()
	}
	return Me{Account: account.Value, Mine: mine.List().Items}, nil
}

func sessionEnded() error {
	return farm.Refuse("session.ended", "", "this session was ended; sign in again")
}

// ChangePassword sets a new password and ends every other session. It refuses
// with password.wrong, password.length and password.weak.
func (s *Service) ChangePassword(ctx context.Context, a Actor, current, next string) error {
	if err := auth.CheckNew("/new_password", next); err != nil {
		return err
	}
	account, found, err := s.store.FindAccount(ctx, a.AccountID)
	if err != nil {
		return err
	}
	if !found || !account.DisabledAt.IsZero() {
		return sessionEnded()
	}
	ok, _, err := s.passwords.Verify(ctx, account.PasswordHash, current)
	if err != nil {
		return err
	}
	if !ok {
		return farm.Refuse("password.wrong", "/current_password", "current_password: is not your password")
	}
	hash, err := s.passwords.Hash(ctx, next)
	if err != nil {
		return err
	}
	now := s.now()
	return s.store.InTx(ctx, store.Scope{Account: a.AccountID}, func(tx *store.Tx) error {
		row, session := tx.LockAccount(a.AccountID), tx.Session(a.SessionID)
		if err := tx.Flush(); err != nil {
			return err
		}
		if !row.Found || row.Value.PasswordHash != account.PasswordHash {
			return farm.Refuse("password.stale", "", "the password was changed a moment ago; sign in again")
		}
		changed := row.Value
		changed.PasswordHash = hash
		tx.UpdateAccount(changed)
		keep := uuid.Nil
		if session.Found {
			keep = session.Value.FamilyID
		}
		tx.RevokeSessionsOf(a.AccountID, keep, now)
		return nil
	})
}

// NewAccount makes an account outside of any garden: for a garden's first
// coordinator. It refuses with account.invalid, account.email_taken and the
// password's codes.
func (s *Service) NewAccount(ctx context.Context, email, name, password string, mayFound bool) (farm.Account, error) {
	account := farm.Account{ID: s.ids(), Email: email, DisplayName: name, MayFound: mayFound, CreatedAt: s.now(), Version: 1}
	if err := account.Validate(); err != nil {
		return account, err
	}
	if err := auth.CheckNew("/password", password); err != nil {
		return account, err
	}
	hash, err := s.passwords.Hash(ctx, password)
	if err != nil {
		return account, err
	}
	account.PasswordHash = hash
	return account, s.store.InTx(ctx, store.Scope{}, func(tx *store.Tx) error {
		tx.InsertAccount(account)
		return nil
	})
}
