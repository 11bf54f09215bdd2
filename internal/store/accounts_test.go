package store_test

import (
	"testing"
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/store"
)

func TestAnAddressBelongsToOneAccountInAnyCase(t *testing.T) {
	t.Parallel()
	p := setup(t)
	add := func(email string) error {
		return p.s.InTx(t.Context(), store.Scope{}, func(tx *store.Tx) error {
			tx.InsertAccount(farm.Account{ID: id(), Email: email, DisplayName: "Di Oak", PasswordHash: "x", CreatedAt: noon})
			return nil
		})
	}
	p.must(add("Di@example.org"))
	wantCode(t, add("di@EXAMPLE.org"), "account.email_taken")
	a, found, err := p.s.FindAccountByEmail(t.Context(), "DI@example.org")
	if err != nil || !found || a.Email != "Di@example.org" {
		t.Errorf("got %+v, %v, %v", a, found, err)
	}
	p.must(p.s.InTx(t.Context(), store.Scope{}, func(tx *store.Tx) error {
		row := tx.LockAccount(a.ID)
		if err := tx.Flush(); err != nil {
			return err
		}
		next := row.Value
		next.DisabledAt, next.MayFound = noon, true
		tx.UpdateAccount(next)
		return nil
	}))
	a, _, err = p.s.FindAccount(t.Context(), a.ID)
	p.must(err)
	if !a.DisabledAt.Equal(noon) || !a.MayFound || a.Version != 2 {
		t.Errorf("got %+v", a)
	}
}

func TestSessionsOfOneSignInEndTogether(t *testing.T) {
	t.Parallel()
	p := setup(t)
	family := id()
	session := func(n byte) farm.Session {
		return farm.Session{ID: id(), AccountID: p.scope.Account, FamilyID: family, RefreshHash: [32]byte{n}, Device: "tablet",
			CreatedAt: noon, ExpiresAt: noon.Add(time.Hour)}
	}
	one, two := session(1), session(2)
	p.must(p.s.InTx(t.Context(), store.Scope{}, func(tx *store.Tx) error {
		tx.InsertSession(one)
		tx.InsertSession(two)
		tx.MarkSessionUsed(one.ID, noon)
		return nil
	}))
	p.must(p.s.InTx(t.Context(), store.Scope{}, func(tx *store.Tx) error {
		got, none := tx.LockSessionByRefresh([32]byte{1}), tx.LockSessionByRefresh([32]byte{9})
		if err := tx.Flush(); err != nil {
			return err
		}
		if got.Value.ID != one.ID || !got.Value.UsedAt.Equal(noon) || none.Found {
			t.Errorf("got %+v and %v", got.Value, none.Found)
		}
		tx.RevokeFamily(family, noon.Add(time.Minute))
		return nil
	}))
	var list *store.Rows[farm.Session]
	p.must(p.s.Snapshot(t.Context(), store.Scope{}, func(b *store.Batch) { list = b.SessionsOf(p.scope.Account) }))
	if len(list.Values) != 2 {
		t.Fatalf("got %d sessions, want 2", len(list.Values))
	}
	for _, x := range list.Values {
		if !x.RevokedAt.Equal(noon.Add(time.Minute)) {
			t.Errorf("session %s was not revoked", x.ID)
		}
	}
	p.must(p.s.InTx(t.Context(), store.Scope{}, func(tx *store.Tx) error { tx.ForgetSessions(noon.Add(2 * time.Hour)); return nil }))
	p.must(p.s.Read(t.Context(), store.Scope{}, func(b *store.Batch) { list = b.SessionsOf(p.scope.Account) }))
	if len(list.Values) != 0 {
		t.Errorf("got %d sessions, want none", len(list.Values))
	}
}

func TestASnapshotBringsWhatAReadBrings(t *testing.T) {
	t.Parallel()
	p := setup(t)
	for name, look := range map[string]func(func(*store.Batch)) error{
		"read":     func(fn func(*store.Batch)) error { return p.s.Read(t.Context(), p.scope, fn) },
		"snapshot": func(fn func(*store.Batch)) error { return p.s.Snapshot(t.Context(), p.scope, fn) },
	} {
		var sites *store.Rows[uuid.UUID]
		var batch *store.Batch
		p.must(look(func(b *store.Batch) { batch, sites = b, b.SiteIDs() }))
		g, m, ok := batch.Actor()
		if !ok || g.ID != p.scope.Garden || m.ID != p.member || len(sites.Values) != 1 {
			t.Errorf("%s: got %v, %+v, %d sites", name, ok, m, len(sites.Values))
		}
	}
}
