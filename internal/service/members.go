package service

import (
	"context"

	"github.com/google/uuid"

	"midden/internal/auth"
	"midden/internal/farm"
	"midden/internal/store"
)

// MemberNew is what a member is added from. Without an email the person does
// not sign in. InitialPassword is needed when no account has the email yet.
type MemberNew struct {
	ID              uuid.UUID
	Email           string
	InitialPassword string `json:"-"`
	DisplayName     string
	Role            farm.Role
	HouseholdID     uuid.UUID
}

// AddMember adds a person to the garden, and makes their account when there is
// none. It refuses with member.invalid, member.exists, account.invalid,
// account.password_needed, household.not_found and auth's password codes.
func (s *Service) AddMember(ctx context.Context, a Actor, garden uuid.UUID, in MemberNew, once Once) (Done[farm.Member], error) {
	content, err := digest(in)
	if err != nil {
		return Done[farm.Member]{}, err
	}
	hash, err := s.hashForNew(ctx, a, garden, in)
	if err != nil {
		return Done[farm.Member]{}, err
	}
	in.ID = s.idOr(in.ID)
	type known struct {
		made[farm.Member]
		account *store.Row[farm.Account]
	}
	return write(ctx, s, a, garden, farm.ManagePeople, once,
		func(tx *store.Tx) known {
			return known{made[farm.Member]{tx.MemberContent(in.ID), tx.Member(in.ID)}, tx.AccountByEmail(in.Email)}
		},
		func(w *Work, k known) (farm.Member, error) {
			if same, err := again(k.content, content, "member.exists"); same || err != nil {
				return k.row.Value, err
			}
			m := farm.Member{ID: in.ID, Role: in.Role, DisplayName: in.DisplayName, HouseholdID: in.HouseholdID,
				Active: true, CreatedAt: w.Now, Version: 1}
			if err := m.Validate(); err != nil {
				return m, err
			}
			if in.Email == "" {
				w.InsertMember(m, content)
				return m, nil
			}
			account := k.account.Value
			if !k.account.Found {
				account = farm.Account{ID: s.ids(), Email: in.Email, DisplayName: in.DisplayName, PasswordHash: hash, CreatedAt: w.Now, Version: 1}
				if err := account.Validate(); err != nil {
					return m, err
				}
				if hash == "" {
					return m, passwordNeeded()
				}
				w.InsertAccount(account)
			}
			m.AccountID, m.Email = account.ID, account.Email
			w.InsertMember(m, content)
			return m, nil
		})
}

func passwordNeeded() error {
	return farm.Refuse("account.password_needed", "/initial_password",
		"initial_password: must be given, as no account has this email yet")
}

// hashForNew hashes the first password of a person without an account. It
// takes long, so it is done outside of any transaction, and only for someone
// who may add people.
func (s *Service) hashForNew(ctx context.Context, a Actor, garden uuid.UUID, in MemberNew) (string, error) {
	if in.Email == "" {
		return "", nil
	}
	var account *store.Row[farm.Account]
	_, _, err := s.read(ctx, a, garden, farm.ManagePeople, func(b *store.Batch) { account = b.AccountByEmail(in.Email) })
	if err != nil || account.Found {
		return "", err
	}
	if in.InitialPassword == "" {
		return "", passwordNeeded()
	}
	if err := auth.CheckNew("/initial_password", in.InitialPassword); err != nil {
		return "", err
	}
	return s.passwords.Hash(ctx, in.InitialPassword)
}

// Members lists members by name.
func (s *Service) Members(ctx context.Context, a Actor, garden uuid.UUID, f store.MemberFilter, p store.Page) (store.List[farm.Member], error) {
	return paged(ctx, s, a, garden, farm.SeePeople, func(b *store.Batch) *store.Paged[farm.Member] { return b.Members(f, p) })
}

// Member is one member: for those who see people, and for the person. It
// refuses with member.not_found.
func (s *Service) Member(ctx context.Context, a Actor, garden, id uuid.UUID) (farm.Member, error) {
	var row *store.Row[farm.Member]
	_, me, err := s.read(ctx, a, garden, anyone, func(b *store.Batch) { row = b.Member(id) })
	if err != nil {
		return farm.Member{}, err
	}
	if me.ID != id {
		if err := authorise(me, farm.SeePeople); err != nil {
			return farm.Member{}, err
		}
	}
	return row.Or("member.not_found", "no member %s in this garden", id)
}

// UpdateMember changes a member at the version the person has read. It refuses
// with member.not_found, version.stale, member.invalid, household.not_found,
// and with member.last_coordinator what would leave the garden without one.
func (s *Service) UpdateMember(ctx context.Context, a Actor, garden, id uuid.UUID, version int, edit func(*farm.Member)) (farm.Member, error) {
	type known struct {
		coordinators *store.Rows[farm.Member]
		row          *store.Row[farm.Member]
	}
	done, err := write(ctx, s, a, garden, farm.ManagePeople, Once{},
		func(tx *store.Tx) known { return known{tx.LockCoordinators(), tx.LockMember(id)} },
		func(w *Work, k known) (farm.Member, error) {
			m, err := k.row.Or("member.not_found", "no member %s in this garden", id)
			if err != nil {
				return m, err
			}
			if err := checkVersion("member", m.Version, version); err != nil {
				return m, err
			}
			edit(&m)
			was := k.row.Value
			m.ID, m.AccountID, m.Email, m.CreatedAt, m.Version = id, was.AccountID, was.Email, was.CreatedAt, version+1
			if err := m.Validate(); err != nil {
				return m, err
			}
			stepsDown := was.Role == farm.Coordinator && was.Active && (m.Role != farm.Coordinator || !m.Active)
			if stepsDown && len(k.coordinators.Values) < 2 {
				return m, farm.Refuse("member.last_coordinator", "/role", "role: a garden needs a coordinator; name another one first")
			}
			w.UpdateMember(m)
			return m, nil
		})
	return done.Value, err
}
