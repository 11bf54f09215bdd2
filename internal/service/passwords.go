package service

import (
	"context"

	"github.com/google/uuid"

	"midden/internal/auth"
	"midden/internal/farm"
	"midden/internal/store"
)

// ResetPassword sets a person's password and ends every session of theirs: for
// who looks after the database, not for the edges. It gives the account and
// refuses with account.not_found and the password's codes.
func (s *Service) ResetPassword(ctx context.Context, email, password string) (farm.Account, error) {
	if err := auth.CheckNew("/password", password); err != nil {
		return farm.Account{}, err
	}
	account, found, err := s.store.FindAccountByEmail(ctx, email)
	if err != nil {
		return farm.Account{}, err
	}
	if !found {
		return farm.Account{}, farm.Refuse("account.not_found", "/email", "email: no account has the address %s", email)
	}
	hash, err := s.passwords.Hash(ctx, password)
	if err != nil {
		return farm.Account{}, err
	}
	now := s.now()
	return account, s.store.InTx(ctx, store.Scope{Account: account.ID}, func(tx *store.Tx) error {
		row := tx.LockAccount(account.ID)
		if err := tx.Flush(); err != nil {
			return err
		}
		changed := row.Value
		changed.PasswordHash = hash
		tx.UpdateAccount(changed)
		tx.RevokeSessionsOf(account.ID, uuid.Nil, now)
		return nil
	})
}
