package auth

import (
	"errors"
	"fmt"
	"time"

	"github.com/golang-jwt/jwt/v5"
	"github.com/google/uuid"

	"midden/internal/farm"
)

const (
	// AccessLifetime is how long an access token is good for.
	AccessLifetime = 15 * time.Minute
	// Leeway forgives clocks of two servers that differ.
	Leeway = 30 * time.Second

	// tokenType is the typ of RFC 9068. It keeps tokens made for anything
	// else, though signed by the same key, from being taken for access.
	tokenType = "at+jwt"
	// maxToken bounds what is parsed before anything is known to be signed.
	maxToken = 4000
)

// Parties are who makes a token and who it is for: both are the public address
// of the service unless it is split.
type Parties struct{ Issuer, Audience string }

// Access is what a valid access token says. What the account may do is not in
// it: the role is read anew in each request.
type Access struct {
	TokenID   uuid.UUID
	AccountID uuid.UUID
	SessionID uuid.UUID
	IssuedAt  time.Time
	ExpiresAt time.Time
}

type claims struct {
	jwt.RegisteredClaims
	Session string `json:"sid"`
}

// Signer makes access tokens.
type Signer struct {
	key     key
	parties Parties
}

// NewSigner signs with the first of the keys.
func NewSigner(keys Keys, parties Parties) *Signer {
	return &Signer{key: keys.list[0], parties: parties}
}

// Sign makes an access token that is good from now on for AccessLifetime.
func (s *Signer) Sign(now time.Time, account, session uuid.UUID) (token string, expires time.Time, err error) {
	now = now.UTC().Truncate(time.Second)
	expires = now.Add(AccessLifetime)
	id, err := uuid.NewV7()
	if err != nil {
		return "", time.Time{}, fmt.Errorf("auth: %w", err)
	}
	t := jwt.NewWithClaims(jwt.SigningMethodEdDSA, claims{
		RegisteredClaims: jwt.RegisteredClaims{
			Issuer: s.parties.Issuer, Audience: jwt.ClaimStrings{s.parties.Audience}, Subject: account.String(),
			IssuedAt: jwt.NewNumericDate(now), NotBefore: jwt.NewNumericDate(now), ExpiresAt: jwt.NewNumericDate(expires),
			ID: id.String(),
		},
		Session: session.String(),
	})
	t.Header["typ"], t.Header["kid"] = tokenType, s.key.id
	token, err = t.SignedString(s.key.private)
	if err != nil {
		return "", time.Time{}, fmt.Errorf("auth: %w", err)
	}
	return token, expires, nil
}

// Verifier reads access tokens.
type Verifier struct {
	keys    Keys
	parties Parties
	recent  recent
}

// NewVerifier accepts what any of the keys signed for the parties.
func NewVerifier(keys Keys, parties Parties) *Verifier {
	return &Verifier{keys: keys, parties: parties}
}

// Verify refuses with token.expired, which a client answers by refreshing, and
// with token.invalid for everything else. It never says more to the bearer;
// errors.Unwrap gives the reason for the log.
//
// One algorithm is accepted. Keys come from our own set by kid: whatever key
// or address of a key a token brings along is not looked at (RFC 8725,
// sections 3.1, 3.5, 3.8 to 3.11).
func (v *Verifier) Verify(now time.Time, token string) (Access, error) {
	if len(token) > maxToken {
		return Access{}, invalid("token.invalid", errors.New("too long"))
	}
	if access, ok := v.recent.find(now, token); ok {
		return access, nil
	}
	parser := jwt.NewParser(
		jwt.WithValidMethods([]string{jwt.SigningMethodEdDSA.Alg()}),
		jwt.WithIssuer(v.parties.Issuer), jwt.WithAudience(v.parties.Audience),
		jwt.WithExpirationRequired(), jwt.WithNotBeforeRequired(), jwt.WithIssuedAt(),
		jwt.WithLeeway(Leeway), jwt.WithTimeFunc(func() time.Time { return now }),
		jwt.WithStrictDecoding(),
	)
	var c claims
	_, err := parser.ParseWithClaims(token, &c, v.keyFor)
	switch {
	case err == nil:
		access, err := accessOf(c)
		if err == nil {
			v.recent.keep(token, proved{access, c.NotBefore.Time})
		}
		return access, err
	// The library joins every fault of the claims: expired is said only when nothing else is wrong.
	case errors.Is(err, jwt.ErrTokenExpired) && !wrongElsewhere(err):
		return Access{}, invalid("token.expired", err)
	default:
		return Access{}, invalid("token.invalid", err)
	}
}

func wrongElsewhere(err error) bool {
	for _, other := range []error{jwt.ErrTokenInvalidIssuer, jwt.ErrTokenInvalidAudience, jwt.ErrTokenNotValidYet,
		jwt.ErrTokenUsedBeforeIssued, jwt.ErrTokenRequiredClaimMissing} {
		if errors.Is(err, other) {
			return true
		}
	}
	return false
}

func (v *Verifier) keyFor(t *jwt.Token) (any, error) {
	if typ, _ := t.Header["typ"].(string); typ != tokenType {
		return nil, fmt.Errorf("typ must be %s", tokenType)
	}
	// RFC 7515, section 4.1.11: what says that it must be understood is refused by one who doesn't.
	if _, critical := t.Header["crit"]; critical {
		return nil, errors.New("crit names an extension; none is understood")
	}
	id, _ := t.Header["kid"].(string)
	public, ok := v.keys.public(id)
	if !ok {
		return nil, errors.New("kid names no key of ours")
	}
	return public, nil
}

func accessOf(c claims) (Access, error) {
	account, errAccount := uuid.Parse(c.Subject)
	session, errSession := uuid.Parse(c.Session)
	id, errID := uuid.Parse(c.ID)
	if err := errors.Join(errAccount, errSession, errID); err != nil {
		return Access{}, invalid("token.invalid", err)
	}
	if c.IssuedAt == nil {
		return Access{}, invalid("token.invalid", errors.New("iat is missing"))
	}
	return Access{TokenID: id, AccountID: account, SessionID: session,
		IssuedAt: c.IssuedAt.UTC(), ExpiresAt: c.ExpiresAt.UTC()}, nil
}

// tokenError is a refusal that keeps its reason for the log.
type tokenError struct {
	refusal *farm.Error
	why     error
}

func (e *tokenError) Error() string   { return e.refusal.Error() + ": " + e.why.Error() }
func (e *tokenError) Unwrap() []error { return []error{e.refusal, e.why} }

func invalid(code farm.Code, why error) error {
	message := "the access token is not valid here; sign in again"
	if code == "token.expired" {
		message = "the access token has expired; refresh it or sign in again"
	}
	return &tokenError{refusal: farm.Refuse(code, "", "%s", message), why: why}
}
