package httpapi

import (
	"context"
	"testing"
	"time"
)

// device is one signed-in device.
func (e *edge) device(email string) (*person, string) {
	e.t.Helper()
	p := &person{edge: e}
	got := p.call("POST", "/v1/sign-in", doc{"email": email, "password": password, "device": "kitchen tablet"}).want(200)
	p.token = got.text("access_token")
	return p, got.text("refresh_token")
}

func (e *edge) refresh(token string) *answer {
	e.t.Helper()
	return (&person{edge: e}).call("POST", "/v1/token-refreshes", doc{"refresh_token": token})
}

// disable shuts an account, as whoever runs the service would.
func (e *edge) disable(email string) {
	e.t.Helper()
	if _, err := e.db.Owner.Exec(context.Background(), `UPDATE midden.accounts SET disabled_at = $1 WHERE email = $2`, noon, email); err != nil {
		e.t.Fatal(err)
	}
}

func TestAWrongPasswordAndAnUnknownAddressGetTheSameAnswer(t *testing.T) {
	e := newEdge(t)
	e.founder("maren@lowfield.example")
	e.founder("shut@lowfield.example")
	e.disable("shut@lowfield.example")
	details := map[any]bool{}
	for _, in := range []doc{
		{"email": "maren@lowfield.example", "password": "four dry eggshells"},
		{"email": "nobody@lowfield.example", "password": password},
		{"email": "shut@lowfield.example", "password": password},
	} {
		a := (&person{edge: e}).call("POST", "/v1/sign-in", in).refused(401, "login.refused", "")
		details[a.Body["detail"]] = true
		if a.Header.Get("WWW-Authenticate") == "" {
			t.Error("a 401 must say how to authenticate")
		}
	}
	if len(details) != 1 {
		t.Errorf("the answers differ: %v", details)
	}
	e.signIn("MAREN@lowfield.example")
	(&person{edge: e}).call("POST", "/v1/sign-in", doc{"email": "maren@lowfield.example"}).refused(400, "request.malformed", "/password")
}

func TestARefreshTokenIsGoodForOneTrade(t *testing.T) {
	e := newEdge(t)
	e.founder("maren@lowfield.example")
	_, first := e.device("maren@lowfield.example")
	traded := e.refresh(first).want(200)
	second := traded.text("refresh_token")
	if second == first {
		t.Error("the refresh token did not change")
	}
	(&person{edge: e, token: traded.text("access_token")}).call("GET", "/v1/me", nil).want(200)
	e.refresh(second).want(200)
	e.refresh("mr1_0123456789abcdefghijkl").refused(401, "refresh.invalid", "/refresh_token")
}

// A stolen token can't be told from the device's own: RFC 9700, section 4.14.2.
func TestARefreshTokenUsedTwiceEndsTheDevicesSessions(t *testing.T) {
	e := newEdge(t)
	e.founder("maren@lowfield.example")
	_, first := e.device("maren@lowfield.example")
	_, other := e.device("maren@lowfield.example")
	second := e.refresh(first).want(200).text("refresh_token")
	e.refresh(first).refused(401, "refresh.reused", "/refresh_token")
	e.refresh(second).refused(401, "refresh.revoked", "/refresh_token")
	e.refresh(other).want(200)
}

func TestARefreshTokenExpiresAndADisabledAccountHasNone(t *testing.T) {
	e := newEdge(t)
	e.founder("maren@lowfield.example")
	p, token := e.device("maren@lowfield.example")
	_, kept := e.device("maren@lowfield.example")
	e.at(noon.Add(31 * 24 * time.Hour))
	e.refresh(token).refused(401, "refresh.expired", "/refresh_token")
	p.call("GET", "/v1/me", nil).refused(401, "token.expired", "")
	e.at(noon)
	e.disable("maren@lowfield.example")
	e.refresh(kept).refused(401, "refresh.revoked", "/refresh_token")
	p.call("GET", "/v1/me", nil).refused(401, "session.ended", "")
}

func TestSigningOutEndsTheDevice(t *testing.T) {
	e := newEdge(t)
	e.founder("maren@lowfield.example")
	p, token := e.device("maren@lowfield.example")
	_, other := e.device("maren@lowfield.example")
	p.call("POST", "/v1/sign-out", nil).want(204)
	e.refresh(token).refused(401, "refresh.revoked", "/refresh_token")
	e.refresh(other).want(200)
	(&person{edge: e}).call("POST", "/v1/sign-out", nil).refused(401, "token.missing", "Authorization")
}

func TestMeNamesThePersonAndTheirGardens(t *testing.T) {
	e := newEdge(t)
	p := e.newGarden("maren@lowfield.example")
	q := p.with("keeper", "ines@lowfield.example")
	me := q.call("GET", "/v1/me", nil).want(200)
	list := me.Body["memberships"].([]any)
	if me.text("email") != "ines@lowfield.example" || me.Body["may_found_gardens"] != false || len(list) != 1 {
		t.Fatalf("got %s", me.Raw)
	}
	m := list[0].(map[string]any)
	if m["garden_id"] != p.garden || m["role"] != "keeper" || m["member_id"] != q.member || m["garden_name"] != "Lowfield Terrace Garden" {
		t.Errorf("got %v", m)
	}
	p.in("PATCH", "/members/"+q.member, doc{"active": false}, "If-Match", `"1"`).want(200)
	if left := q.call("GET", "/v1/me", nil).want(200); len(left.Body["memberships"].([]any)) != 0 {
		t.Errorf("a member who left still has %s", left.Raw)
	}
	q.in("GET", "", nil).refused(404, "garden.not_found", "")
}

func TestAChangedPasswordEndsEveryOtherSession(t *testing.T) {
	e := newEdge(t)
	e.founder("maren@lowfield.example")
	p, own := e.device("maren@lowfield.example")
	_, other := e.device("maren@lowfield.example")
	change := func(current, next string) *answer {
		return p.call("POST", "/v1/me/password", doc{"current_password": current, "new_password": next})
	}
	change("four dry eggshells", "five cold corn cobs").refused(422, "password.wrong", "/current_password")
	change(password, "short").refused(400, "request.malformed", "/new_password")
	change(password, "five cold corn cobs").want(204)
	e.refresh(other).refused(401, "refresh.revoked", "/refresh_token")
	e.refresh(own).want(200)
	(&person{edge: e}).call("POST", "/v1/sign-in", doc{"email": "maren@lowfield.example", "password": password}).refused(401, "login.refused", "")
	(&person{edge: e}).call("POST", "/v1/sign-in", doc{"email": "maren@lowfield.example", "password": "five cold corn cobs"}).want(200)
}
