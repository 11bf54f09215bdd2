package auth

import (
	"crypto/sha256"
	"encoding/base64"
	"fmt"
	"strings"
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
)

const (
	// RefreshLifetime is how long a device stays signed in without being used.
	RefreshLifetime = 30 * 24 * time.Hour
	// refreshPrefix makes a leaked token easy to recognise, and leaves room for another format.
	refreshPrefix = "mr1_"
	refreshBytes  = 32
)

// NewSession starts a family of sessions for one device. The token goes to the
// device and is kept nowhere: the session holds its SHA-256, which is enough
// for 256 random bits.
func NewSession(now time.Time, account uuid.UUID, device string) (s farm.Session, token string, err error) {
	family, err := uuid.NewV7()
	if err != nil {
		return farm.Session{}, "", fmt.Errorf("auth: %w", err)
	}
	return session(now, account, family, device)
}

// Rotate exchanges a session for the next of its family. The caller stores the
// new one and notes now as the old one's UsedAt, in one transaction that holds
// the old row's lock.
//
// It refuses with refresh.expired or refresh.revoked, and with refresh.reused
// when the token was exchanged before: then either the device or a thief holds
// an old token, nobody can tell which, and the caller revokes the whole family
// (RFC 9700, section 4.14.2).
func Rotate(now time.Time, old farm.Session) (next farm.Session, token string, err error) {
	switch {
	case !old.RevokedAt.IsZero():
		return farm.Session{}, "", refuseRefresh("refresh.revoked", "this session was ended")
	case !old.UsedAt.IsZero():
		return farm.Session{}, "", refuseRefresh("refresh.reused", "this refresh token was used before; every session of the device has ended")
	case !now.Before(old.ExpiresAt):
		return farm.Session{}, "", refuseRefresh("refresh.expired", "this refresh token has expired")
	}
	return session(now, old.AccountID, old.FamilyID, old.Device)
}

// RefreshHash is what a presented refresh token is looked up by. It refuses
// with refresh.invalid when the token has not the shape of ours.
func RefreshHash(token string) ([sha256.Size]byte, error) {
	text, ok := strings.CutPrefix(token, refreshPrefix)
	raw, err := base64.RawURLEncoding.Strict().DecodeString(text)
	if !ok || err != nil || len(raw) != refreshBytes {
		return [sha256.Size]byte{}, refuseRefresh("refresh.invalid", "this is no refresh token of ours")
	}
	return sha256.Sum256([]byte(token)), nil
}

func session(now time.Time, account, family uuid.UUID, device string) (farm.Session, string, error) {
	id, err := uuid.NewV7()
	if err != nil {
		return farm.Session{}, "", fmt.Errorf("auth: %w", err)
	}
	token := refreshPrefix + base64.RawURLEncoding.EncodeToString(random(refreshBytes))
	return farm.Session{
		ID: id, AccountID: account, FamilyID: family, Device: device,
		RefreshHash: sha256.Sum256([]byte(token)),
		CreatedAt:   now, ExpiresAt: now.Add(RefreshLifetime),
	}, token, nil
}

func refuseRefresh(code farm.Code, what string) error {
	return farm.Refuse(code, "/refresh_token", "refresh_token: %s; sign in again", what)
}
