package auth_test

import (
	"crypto/sha256"
	"strings"
	"testing"
	"time"

	"midden/internal/auth"
	"midden/internal/farm"
)

func TestASessionIsFoundByItsTokenAndKeepsOnlyTheHash(t *testing.T) {
	t.Parallel()
	s, token, err := auth.NewSession(noon, account, "kitchen tablet")
	if err != nil {
		t.Fatal(err)
	}
	hash, err := auth.RefreshHash(token)
	if err != nil || hash != s.RefreshHash || hash != sha256.Sum256([]byte(token)) {
		t.Fatalf("%x, %x, %v", hash, s.RefreshHash, err)
	}
	if s.AccountID != account || s.Device != "kitchen tablet" || !s.CreatedAt.Equal(noon) ||
		!s.ExpiresAt.Equal(noon.Add(auth.RefreshLifetime)) || !s.UsedAt.IsZero() || !s.RevokedAt.IsZero() || s.ID == s.FamilyID {
		t.Fatalf("got %+v", s)
	}
	if !strings.HasPrefix(token, "mr1_") || len(token) != 47 {
		t.Fatalf("token %q", token)
	}
}

func TestARefreshStaysInTheFamilyWithANewToken(t *testing.T) {
	t.Parallel()
	old, oldToken, err := auth.NewSession(noon, account, "kitchen tablet")
	if err != nil {
		t.Fatal(err)
	}
	later := noon.Add(29 * 24 * time.Hour)
	next, token, err := auth.Rotate(later, old)
	if err != nil {
		t.Fatal(err)
	}
	if token == oldToken || next.ID == old.ID || next.RefreshHash == old.RefreshHash {
		t.Fatalf("the same again: %+v", next)
	}
	if next.FamilyID != old.FamilyID || next.AccountID != account || next.Device != old.Device ||
		!next.ExpiresAt.Equal(later.Add(auth.RefreshLifetime)) {
		t.Fatalf("got %+v", next)
	}
}

// RFC 9700, section 4.14.2: a refresh token is good once, and a second use is noticed.
func TestARefreshIsRefusedOnceUsedRevokedOrExpired(t *testing.T) {
	t.Parallel()
	fresh, _, err := auth.NewSession(noon, account, "")
	if err != nil {
		t.Fatal(err)
	}
	used, revoked, both := fresh, fresh, fresh
	used.UsedAt, revoked.RevokedAt = noon, noon
	both.UsedAt, both.RevokedAt = noon, noon
	for name, c := range map[string]struct {
		s    farm.Session
		at   time.Time
		want farm.Code
	}{
		"used":             {used, noon.Add(time.Second), "refresh.reused"},
		"revoked":          {revoked, noon, "refresh.revoked"},
		"used and revoked": {both, noon, "refresh.revoked"},
		"at its end":       {fresh, fresh.ExpiresAt, "refresh.expired"},
		"just before":      {fresh, fresh.ExpiresAt.Add(-time.Nanosecond), ""},
		"used and expired": {used, fresh.ExpiresAt, "refresh.reused"},
	} {
		next, token, err := auth.Rotate(c.at, c.s)
		if farm.CodeOf(err) != c.want || (err != nil) != (token == "") || err != nil && next != (farm.Session{}) {
			t.Errorf("%s: %v, %q, %v", name, next, token, err)
		}
	}
}

func TestOnlyTheShapeOfOurRefreshTokensIsLookedUp(t *testing.T) {
	t.Parallel()
	_, token, err := auth.NewSession(noon, account, "")
	if err != nil {
		t.Fatal(err)
	}
	for _, text := range []string{"", "mr1_", token[4:], "mr2_" + token[4:], token[:46], token + "A", token + "=", strings.ToUpper(token), " " + token} {
		if _, err := auth.RefreshHash(text); farm.CodeOf(err) != "refresh.invalid" {
			t.Errorf("%q: got %v", text, err)
		}
	}
}
