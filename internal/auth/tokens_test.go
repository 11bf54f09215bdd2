package auth_test

import (
	"crypto/ed25519"
	"crypto/rsa"
	"encoding/base64"
	"encoding/json"
	"maps"
	"strings"
	"testing"
	"time"

	"github.com/golang-jwt/jwt/v5"
	"github.com/google/uuid"

	"midden/internal/auth"
	"midden/internal/farm"
)

var (
	noon    = time.Date(2026, 5, 4, 12, 0, 0, 0, time.UTC)
	parties = auth.Parties{Issuer: "https://lowfield.example", Audience: "https://lowfield.example/v1"}
	account = uuid.MustParse("0198c0de-0000-7000-8000-000000000003")
	session = uuid.MustParse("0198c0de-0000-7000-8000-000000000004")
)

// desk is one service: its keys, signer and verifier.
type desk struct {
	seed     string
	keys     auth.Keys
	signer   *auth.Signer
	verifier *auth.Verifier
}

func newDesk(t *testing.T) desk {
	t.Helper()
	d := desk{seed: auth.NewSeed()}
	var err error
	if d.keys, err = auth.ParseKeys(d.seed); err != nil {
		t.Fatal(err)
	}
	d.signer, d.verifier = auth.NewSigner(d.keys, parties), auth.NewVerifier(d.keys, parties)
	return d
}

func (d desk) private(t *testing.T) ed25519.PrivateKey {
	t.Helper()
	seed, err := base64.RawURLEncoding.DecodeString(d.seed)
	if err != nil {
		t.Fatal(err)
	}
	return ed25519.NewKeyFromSeed(seed)
}

// claims are those of a good token at noon; a test spoils one.
func goodClaims() jwt.MapClaims {
	return jwt.MapClaims{
		"iss": parties.Issuer, "aud": parties.Audience, "sub": account.String(), "sid": session.String(),
		"jti": "0198c0de-0000-7000-8000-000000000005",
		"iat": noon.Unix(), "nbf": noon.Unix(), "exp": noon.Add(auth.AccessLifetime).Unix(),
	}
}

func (d desk) goodHeader() map[string]any {
	return map[string]any{"alg": "EdDSA", "typ": "at+jwt", "kid": d.keys.IDs()[0]}
}

// forge signs whatever header and claims say, with whatever key.
func forge(t *testing.T, method jwt.SigningMethod, key any, header map[string]any, claims jwt.MapClaims) string {
	t.Helper()
	token := jwt.NewWithClaims(method, claims)
	token.Header = header
	text, err := token.SignedString(key)
	if err != nil {
		t.Fatal(err)
	}
	return text
}

func (d desk) expect(t *testing.T, token string, want farm.Code) {
	t.Helper()
	access, err := d.verifier.Verify(noon.Add(time.Minute), token)
	if farm.CodeOf(err) != want {
		t.Fatalf("got %+v, %v; want code %q", access, err, want)
	}
	if err != nil && access != (auth.Access{}) {
		t.Fatalf("a refused token still says %+v", access)
	}
	if e := farm.AsError(err); e != nil && strings.Contains(e.Message, "kid") {
		t.Fatalf("the bearer is told the reason: %s", e.Message)
	}
}

func TestASignedTokenSaysWhoAndWhichSession(t *testing.T) {
	t.Parallel()
	d := newDesk(t)
	token, expires, err := d.signer.Sign(noon.Add(700*time.Millisecond), account, session)
	if err != nil || !expires.Equal(noon.Add(15*time.Minute)) {
		t.Fatalf("%v, %v", expires, err)
	}
	access, err := d.verifier.Verify(noon.Add(time.Minute), token)
	if err != nil {
		t.Fatal(err)
	}
	if access.AccountID != account || access.SessionID != session || access.TokenID == uuid.Nil ||
		!access.IssuedAt.Equal(noon) || !access.ExpiresAt.Equal(expires) {
		t.Fatalf("got %+v", access)
	}
}

// RFC 9068, section 2: the typ, and the claims that an access token must have.
func TestATokenHasTheHeaderAndTheClaimsOfAnAccessToken(t *testing.T) {
	t.Parallel()
	d := newDesk(t)
	token, _, err := d.signer.Sign(noon, account, session)
	if err != nil {
		t.Fatal(err)
	}
	parts := strings.Split(token, ".")
	var header, claims map[string]any
	for i, into := range []*map[string]any{&header, &claims} {
		raw, err := base64.RawURLEncoding.DecodeString(parts[i])
		if err != nil {
			t.Fatal(err)
		}
		if err := json.Unmarshal(raw, into); err != nil {
			t.Fatal(err)
		}
	}
	if !maps.Equal(header, d.goodHeader()) {
		t.Errorf("header %v", header)
	}
	for _, name := range []string{"iss", "aud", "exp", "nbf", "iat", "sub", "sid", "jti"} {
		if claims[name] == nil {
			t.Errorf("%s is missing", name)
		}
	}
	if len(claims) != 8 {
		t.Errorf("more than was meant to be told: %v", claims)
	}
}

// What follows holds a demand of RFC 8725 (JSON Web Token Best Current
// Practices) each; the section is beside it. The forged tokens differ from
// this good one in a single point.
func TestAGoodTokenMadeByHandIsAccepted(t *testing.T) {
	t.Parallel()
	d := newDesk(t)
	d.expect(t, forge(t, jwt.SigningMethodEdDSA, d.private(t), d.goodHeader(), goodClaims()), "")
}

func TestATokenWithoutASignatureIsRefused(t *testing.T) { // sections 2.1 and 3.2
	t.Parallel()
	d := newDesk(t)
	for _, alg := range []string{"none", "None", "NONE"} {
		h := d.goodHeader()
		h["alg"] = alg
		d.expect(t, forge(t, jwt.SigningMethodNone, jwt.UnsafeAllowNoneSignatureType, h, goodClaims()), "token.invalid")
	}
	good := forge(t, jwt.SigningMethodEdDSA, d.private(t), d.goodHeader(), goodClaims())
	d.expect(t, good[:strings.LastIndexByte(good, '.')+1], "token.invalid")
}

func TestAnHMACKeyedWithThePublicKeyIsRefused(t *testing.T) { // sections 2.1 and 3.1
	t.Parallel()
	d := newDesk(t)
	h := d.goodHeader()
	h["alg"] = "HS256"
	public := []byte(d.private(t).Public().(ed25519.PublicKey))
	d.expect(t, forge(t, jwt.SigningMethodHS256, public, h, goodClaims()), "token.invalid")
	// The same signature under the name of our algorithm.
	h["alg"] = "EdDSA"
	d.expect(t, forge(t, jwt.SigningMethodHS256, public, h, goodClaims()), "token.invalid")
}

func TestOnlyTheOneAlgorithmIsAccepted(t *testing.T) { // section 3.1
	t.Parallel()
	d := newDesk(t)
	rsaKey, err := rsa.GenerateKey(nil, 2048)
	if err != nil {
		t.Fatal(err)
	}
	h := d.goodHeader()
	h["alg"] = "RS256"
	d.expect(t, forge(t, jwt.SigningMethodRS256, rsaKey, h, goodClaims()), "token.invalid")
}

func TestATokenOfAnotherTypeIsRefused(t *testing.T) { // section 3.11
	t.Parallel()
	d := newDesk(t)
	for _, typ := range []any{"JWT", "", nil, "logout+jwt", 7} {
		h := d.goodHeader()
		h["typ"] = typ
		d.expect(t, forge(t, jwt.SigningMethodEdDSA, d.private(t), h, goodClaims()), "token.invalid")
	}
}

func TestATokenOfAnotherIssuerIsRefused(t *testing.T) { // section 3.8
	t.Parallel()
	d := newDesk(t)
	c := goodClaims()
	c["iss"] = "https://elsewhere.example"
	d.expect(t, forge(t, jwt.SigningMethodEdDSA, d.private(t), d.goodHeader(), c), "token.invalid")
}

func TestATokenForAnotherAudienceIsRefused(t *testing.T) { // section 3.9
	t.Parallel()
	d := newDesk(t)
	c := goodClaims()
	c["aud"] = []string{"https://elsewhere.example"}
	d.expect(t, forge(t, jwt.SigningMethodEdDSA, d.private(t), d.goodHeader(), c), "token.invalid")
}

func TestAnExpiredTokenIsToldFromABadOne(t *testing.T) { // RFC 7519, section 4.1.4
	t.Parallel()
	d := newDesk(t)
	c := goodClaims()
	c["exp"] = noon.Unix()
	d.expect(t, forge(t, jwt.SigningMethodEdDSA, d.private(t), d.goodHeader(), c), "token.expired")
	c["aud"] = "https://elsewhere.example"
	d.expect(t, forge(t, jwt.SigningMethodEdDSA, d.private(t), d.goodHeader(), c), "token.invalid")
}

func TestATokenIsGoodUntilItsLastSecondAndTheLeeway(t *testing.T) {
	t.Parallel()
	d := newDesk(t)
	token, expires, err := d.signer.Sign(noon, account, session)
	if err != nil {
		t.Fatal(err)
	}
	for at, want := range map[time.Time]farm.Code{
		noon.Add(-auth.Leeway - time.Second):                   "token.invalid",
		noon.Add(-auth.Leeway):                                 "",
		expires.Add(auth.Leeway - time.Second):                 "",
		expires.Add(auth.Leeway):                               "token.expired",
		expires.Add(24 * time.Hour):                            "token.expired",
		noon.Add(-365 * 24 * time.Hour):                        "token.invalid",
		expires.Add(-time.Second).In(time.FixedZone("", 7200)): "",
	} {
		if _, err := d.verifier.Verify(at, token); farm.CodeOf(err) != want {
			t.Errorf("at %v: got %v, want %q", at, err, want)
		}
	}
}

func TestATokenOfTheFutureIsRefused(t *testing.T) { // RFC 7519, section 4.1.5
	t.Parallel()
	d := newDesk(t)
	for _, name := range []string{"nbf", "iat"} {
		c := goodClaims()
		c[name] = noon.Add(10 * time.Minute).Unix()
		d.expect(t, forge(t, jwt.SigningMethodEdDSA, d.private(t), d.goodHeader(), c), "token.invalid")
	}
}

func TestAnUnknownKeyIsRefused(t *testing.T) { // section 3.8
	t.Parallel()
	d, other := newDesk(t), newDesk(t)
	d.expect(t, forge(t, jwt.SigningMethodEdDSA, other.private(t), other.goodHeader(), goodClaims()), "token.invalid")
	// Another's signature under our key's name.
	d.expect(t, forge(t, jwt.SigningMethodEdDSA, other.private(t), d.goodHeader(), goodClaims()), "token.invalid")
	for _, kid := range []any{"", nil, 0, "../../etc/passwd", "' OR 1=1 --"} {
		h := d.goodHeader()
		h["kid"] = kid
		d.expect(t, forge(t, jwt.SigningMethodEdDSA, d.private(t), h, goodClaims()), "token.invalid")
	}
}

func TestAKeyThatATokenBringsAlongIsNotLookedAt(t *testing.T) { // section 3.10
	t.Parallel()
	d, thief := newDesk(t), newDesk(t)
	x := base64.RawURLEncoding.EncodeToString(thief.private(t).Public().(ed25519.PublicKey))
	for name, value := range map[string]any{
		"jwk": map[string]any{"kty": "OKP", "crv": "Ed25519", "x": x},
		"jku": "https://thief.example/keys", "x5u": "https://thief.example/cert", "x5c": []string{x},
	} {
		h := d.goodHeader()
		h[name] = value
		d.expect(t, forge(t, jwt.SigningMethodEdDSA, thief.private(t), h, goodClaims()), "token.invalid")
		d.expect(t, forge(t, jwt.SigningMethodEdDSA, d.private(t), h, goodClaims()), "")
	}
}

func TestACriticalExtensionIsRefused(t *testing.T) { // RFC 7515, section 4.1.11
	t.Parallel()
	d := newDesk(t)
	h := d.goodHeader()
	h["crit"], h["exp2"] = []string{"exp2"}, 1
	d.expect(t, forge(t, jwt.SigningMethodEdDSA, d.private(t), h, goodClaims()), "token.invalid")
}

func TestATamperedTokenIsRefused(t *testing.T) { // section 2.3, and 3.3: every part is covered
	t.Parallel()
	d := newDesk(t)
	token := forge(t, jwt.SigningMethodEdDSA, d.private(t), d.goodHeader(), goodClaims())
	for i := range token {
		if token[i] == '.' {
			continue
		}
		other := byte('A')
		if token[i] == other {
			other = 'B'
		}
		d.expect(t, token[:i]+string(other)+token[i+1:], "token.invalid")
	}
}

func TestEveryClaimMustBeThere(t *testing.T) { // sections 3.8 and 3.9
	t.Parallel()
	d := newDesk(t)
	for _, name := range []string{"iss", "aud", "exp", "nbf", "iat", "sub", "sid", "jti"} {
		c := goodClaims()
		delete(c, name)
		_, err := d.verifier.Verify(noon, forge(t, jwt.SigningMethodEdDSA, d.private(t), d.goodHeader(), c))
		if farm.CodeOf(err) != "token.invalid" {
			t.Errorf("without %s: %v", name, err)
		}
	}
	for _, name := range []string{"sub", "sid", "jti"} {
		c := goodClaims()
		c[name] = "somebody"
		d.expect(t, forge(t, jwt.SigningMethodEdDSA, d.private(t), d.goodHeader(), c), "token.invalid")
	}
}

func TestWhatIsNoTokenIsRefused(t *testing.T) {
	t.Parallel()
	d := newDesk(t)
	good := forge(t, jwt.SigningMethodEdDSA, d.private(t), d.goodHeader(), goodClaims())
	for _, text := range []string{"", ".", "..", "...", "x.y.z", good + ".", good + "=", " " + good, "Bearer " + good,
		"mr1_0123456789abcdefghijkl", strings.Repeat("A", 1<<20), good + strings.Repeat("A", 4000)} {
		d.expect(t, text, "token.invalid")
	}
}

func TestAfterARotationOldTokensVerifyUntilTheOldKeyGoes(t *testing.T) {
	t.Parallel()
	old := newDesk(t)
	token, _, err := old.signer.Sign(noon, account, session)
	if err != nil {
		t.Fatal(err)
	}
	fresh := auth.NewSeed()
	both, err := auth.ParseKeys(fresh + "," + old.seed)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := auth.NewVerifier(both, parties).Verify(noon, token); err != nil {
		t.Fatalf("the old key's token: %v", err)
	}
	newToken, _, err := auth.NewSigner(both, parties).Sign(noon, account, session)
	if err != nil {
		t.Fatal(err)
	}
	only, err := auth.ParseKeys(fresh)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := auth.NewVerifier(only, parties).Verify(noon, newToken); err != nil {
		t.Fatalf("the first key did not sign: %v", err)
	}
	if _, err := auth.NewVerifier(only, parties).Verify(noon, token); farm.CodeOf(err) != "token.invalid" {
		t.Fatalf("the dropped key's token: %v", err)
	}
}

func FuzzTokens(f *testing.F) {
	keys, err := auth.ParseKeys("nWGxne_9WmC6hEr0kuwsxERJxWl7MmkZcDusAxyuf2A")
	if err != nil {
		f.Fatal(err)
	}
	token, _, err := auth.NewSigner(keys, parties).Sign(noon, account, session)
	if err != nil {
		f.Fatal(err)
	}
	f.Add(token)
	f.Add("eyJhbGciOiJub25lIn0.e30.")
	v := auth.NewVerifier(keys, parties)
	signed := token
	f.Fuzz(func(t *testing.T, text string) {
		access, err := v.Verify(noon, text)
		if err == nil && (access.AccountID != account || len(text) != len(signed)) {
			t.Fatalf("%q is taken for %+v", text, access)
		}
		if err != nil && farm.AsError(err) == nil {
			t.Fatalf("%q: not a refusal: %v", text, err)
		}
	})
}

func TestATokenSeenBeforeIsStillHeldToItsTimes(t *testing.T) {
	t.Parallel()
	keys, err := auth.ParseKeys(auth.NewSeed())
	if err != nil {
		t.Fatal(err)
	}
	parties := auth.Parties{Issuer: "https://a.example", Audience: "https://a.example"}
	now := time.Date(2026, 10, 5, 12, 0, 0, 0, time.UTC)
	token, expires, err := auth.NewSigner(keys, parties).Sign(now, uuid.New(), uuid.New())
	if err != nil {
		t.Fatal(err)
	}
	v := auth.NewVerifier(keys, parties)
	first, err := v.Verify(now, token)
	if err != nil {
		t.Fatal(err)
	}
	if again, err := v.Verify(now.Add(time.Minute), token); err != nil || again != first {
		t.Errorf("a minute later: %+v, %v", again, err)
	}
	if _, err := v.Verify(expires.Add(auth.Leeway), token); farm.CodeOf(err) != "token.expired" {
		t.Errorf("after its end: %v", err)
	}
	if _, err := v.Verify(now.Add(-auth.Leeway-time.Second), token); farm.CodeOf(err) != "token.invalid" {
		t.Errorf("before its beginning: %v", err)
	}
	if _, err := v.Verify(now, token[:len(token)-4]+"AAAA"); farm.CodeOf(err) != "token.invalid" {
		t.Errorf("with another signature: %v", err)
	}
}
