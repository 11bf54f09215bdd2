package httpapi

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/getkin/kin-openapi/openapi3filter"
	"github.com/google/uuid"

	"midden/internal/auth"
	"midden/internal/pgtest"
	"midden/internal/service"
	"midden/internal/store"
)

func TestMain(m *testing.M) { pgtest.Main(m) }

// noon is when every test takes place, unless it moves the clock.
var noon = time.Date(2026, 10, 5, 12, 0, 0, 0, time.UTC)

// edge is the real server on a database of the test's own.
type edge struct {
	t        testing.TB
	db       *pgtest.DB
	handler  http.Handler
	svc      *service.Service
	contract *Contract
	url      string
	mu       sync.Mutex
	clock    time.Time
}

// password of every account of the tests.
const password = "three damp sponges"

func newEdge(t *testing.T) *edge {
	t.Helper()
	t.Parallel()
	return openEdge(t)
}

func openEdge(t testing.TB) *edge {
	t.Helper()
	e := &edge{t: t, db: pgtest.New(t), clock: noon}
	keys, err := auth.ParseKeys(auth.NewSeed())
	if err != nil {
		t.Fatal(err)
	}
	parties := auth.Parties{Issuer: "test", Audience: "test"}
	e.svc = service.New(service.Options{
		Store: store.New(e.db.App, store.Options{}), Clock: e.now, Signer: auth.NewSigner(keys, parties),
		Passwords: auth.NewPasswords(auth.PasswordOptions{Cost: auth.Cost{MemoryKiB: 64, Passes: 1, Lanes: 1}, Wait: time.Minute}),
	})
	h, err := New(Options{Service: e.svc, Verifier: auth.NewVerifier(keys, parties), Now: e.now,
		Log: slog.New(slog.NewTextHandler(testLog{t}, &slog.HandlerOptions{Level: slog.LevelWarn})), Ready: func(ctx context.Context) error { return e.db.App.Ping(ctx) }})
	if err != nil {
		t.Fatal(err)
	}
	e.handler = h
	srv := httptest.NewServer(h)
	t.Cleanup(srv.Close)
	e.url = srv.URL
	e.contract = sharedContract(t)
	return e
}

// testLog shows faults of ours beside the test that met them.
type testLog struct{ t testing.TB }

func (l testLog) Write(b []byte) (int, error) {
	l.t.Log(strings.TrimSpace(string(b)))
	return len(b), nil
}

func sharedContract(t testing.TB) *Contract {
	t.Helper()
	c, err := LoadContract()
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func (e *edge) now() time.Time {
	e.mu.Lock()
	defer e.mu.Unlock()
	return e.clock
}

// at moves the clock.
func (e *edge) at(t time.Time) {
	e.mu.Lock()
	defer e.mu.Unlock()
	e.clock = t
}

// person is somebody who is signed in; garden is where their requests go.
type person struct {
	*edge
	token  string
	garden string
	member string
}

// founder is an account that may found gardens, signed in.
func (e *edge) founder(email string) *person {
	e.t.Helper()
	if _, err := e.svc.NewAccount(context.Background(), email, "Maren Holt", password, true); err != nil {
		e.t.Fatal(err)
	}
	return e.signIn(email)
}

func (e *edge) signIn(email string) *person {
	e.t.Helper()
	p := &person{edge: e}
	got := p.call("POST", "/v1/sign-in", doc{"email": email, "password": password}).want(200)
	p.token = got.text("access_token")
	return p
}

// newGarden founds a garden in Lisbon's zone and returns its coordinator.
func (e *edge) newGarden(email string) *person {
	e.t.Helper()
	p := e.founder(email)
	p.garden = p.call("POST", "/v1/gardens", doc{"name": "Lowfield Terrace Garden", "time_zone": "Europe/Lisbon",
		"hemisphere": "north", "units": "metric"}).want(201).text("id")
	me := p.call("GET", "/v1/me", nil).want(200)
	for _, m := range me.Body["memberships"].([]any) {
		p.member = m.(map[string]any)["member_id"].(string)
	}
	return p
}

// with adds a member of a role and signs them in.
func (p *person) with(role, email string) *person {
	p.t.Helper()
	id := p.in("POST", "/members", doc{"email": email, "initial_password": password, "display_name": "Ines Barreto", "role": role}).want(201).text("id")
	q := p.signIn(email)
	q.garden, q.member = p.garden, id
	return q
}

// doc is a JSON object.
type doc map[string]any

// in calls a path of the person's garden.
func (p *person) in(method, path string, body any, headers ...string) *answer {
	p.t.Helper()
	return p.call(method, "/v1/gardens/"+p.garden+path, body, headers...)
}

// answer is a response, already held against the contract.
type answer struct {
	t      testing.TB
	what   string
	Status int
	Header http.Header
	Raw    []byte
	Body   map[string]any
}

// call sends a request and holds the response against the contract. A POST or
// PUT gets a fresh Idempotency-Key unless headers name one. Headers come in
// pairs; an empty value drops the header.
func (p *person) call(method, path string, body any, headers ...string) *answer {
	p.t.Helper()
	var raw []byte
	switch b := body.(type) {
	case nil:
	case string:
		raw = []byte(b)
	default:
		var err error
		if raw, err = json.Marshal(b); err != nil {
			p.t.Fatal(err)
		}
	}
	req, err := http.NewRequestWithContext(context.Background(), method, p.url+path, bytes.NewReader(raw))
	if err != nil {
		p.t.Fatal(err)
	}
	if raw == nil {
		req.Body = http.NoBody
	} else if method == "PATCH" {
		req.Header.Set("Content-Type", "application/merge-patch+json")
	} else {
		req.Header.Set("Content-Type", "application/json")
	}
	if p.token != "" {
		req.Header.Set("Authorization", "Bearer "+p.token)
	}
	if method == "POST" {
		req.Header.Set("Idempotency-Key", fmt.Sprintf("%q", uuid.NewString()))
	}
	for i := 0; i+1 < len(headers); i += 2 {
		if headers[i+1] == "" {
			req.Header.Del(headers[i])
		} else {
			req.Header.Set(headers[i], headers[i+1])
		}
	}
	res, err := http.DefaultClient.Do(req)
	if err != nil {
		p.t.Fatal(err)
	}
	defer res.Body.Close()
	a := &answer{t: p.t, what: method + " " + path, Status: res.StatusCode, Header: res.Header}
	if a.Raw, err = io.ReadAll(res.Body); err != nil {
		p.t.Fatal(err)
	}
	if strings.Contains(res.Header.Get("Content-Type"), "json") {
		if err := json.Unmarshal(a.Raw, &a.Body); err != nil {
			p.t.Fatalf("%s: answer is not JSON: %s", a.what, a.Raw)
		}
	}
	p.holdAgainstContract(req, a)
	return a
}

// holdAgainstContract fails the test when a response is not one the contract
// lists for the operation, or does not fit its schema.
func (p *person) holdAgainstContract(req *http.Request, a *answer) {
	p.t.Helper()
	op := p.contract.match(req.Method, req.URL.Path)
	if op == nil {
		return // unknown paths are answered by the server itself
	}
	in := &openapi3filter.ResponseValidationInput{
		RequestValidationInput: &openapi3filter.RequestValidationInput{Request: req, Route: op.route},
		Status:                 a.Status, Header: a.Header,
		Options: &openapi3filter.Options{IncludeResponseStatus: true, MultiError: true},
	}
	in.SetBodyBytes(a.Raw)
	if err := openapi3filter.ValidateResponse(context.Background(), in); err != nil {
		p.t.Errorf("%s: %d is not as the contract says: %v\n%s", a.what, a.Status, err, a.Raw)
	}
}

// match finds the operation of a concrete path.
func (c *Contract) match(method, path string) *operation {
	parts := strings.Split(path, "/")
next:
	for key, op := range c.routes {
		m, route, _ := strings.Cut(key, " ")
		pattern := strings.Split(route, "/")
		if m != method || len(pattern) != len(parts) {
			continue
		}
		for i := range pattern {
			if !strings.HasPrefix(pattern[i], ":") && pattern[i] != parts[i] {
				continue next
			}
		}
		return op
	}
	return nil
}

// want fails the test when the status is another.
func (a *answer) want(status int) *answer {
	a.t.Helper()
	if a.Status != status {
		a.t.Fatalf("%s: status %d, want %d\n%s", a.what, a.Status, status, a.Raw)
	}
	return a
}

// refused fails the test unless the answer is a problem with this code that
// names this field; an empty field is not looked at.
func (a *answer) refused(status int, code, field string) *answer {
	a.t.Helper()
	a.want(status)
	if got := a.Header.Get("Content-Type"); got != problemType {
		a.t.Errorf("%s: content type %s", a.what, got)
	}
	if a.Body["code"] != code {
		a.t.Errorf("%s: code %v, want %s\n%s", a.what, a.Body["code"], code, a.Raw)
	}
	if field == "" {
		return a
	}
	list, _ := a.Body["errors"].([]any)
	for _, one := range list {
		if m, ok := one.(map[string]any); ok && m["pointer"] == field {
			return a
		}
	}
	a.t.Errorf("%s: no error points at %s\n%s", a.what, field, a.Raw)
	return a
}

// text is a string member of the answer.
func (a *answer) text(name string) string {
	a.t.Helper()
	s, ok := a.Body[name].(string)
	if !ok {
		a.t.Fatalf("%s: no text %q in %s", a.what, name, a.Raw)
	}
	return s
}

// grams is a whole-number member of the answer.
func (a *answer) grams(name string) int64 {
	a.t.Helper()
	n, ok := a.Body[name].(float64)
	if !ok {
		a.t.Fatalf("%s: no number %q in %s", a.what, name, a.Raw)
	}
	return int64(n)
}

// items are the rows of a list.
func (a *answer) items() []map[string]any {
	a.t.Helper()
	list, ok := a.Body["items"].([]any)
	if !ok {
		a.t.Fatalf("%s: no items in %s", a.what, a.Raw)
	}
	out := make([]map[string]any, len(list))
	for i := range list {
		out[i], _ = list[i].(map[string]any)
	}
	return out
}

// pages walks a list to its end, so many rows at a time, and gives the ids.
func (p *person) pages(path string, size int) []string {
	p.t.Helper()
	sep := "?"
	if strings.Contains(path, "?") {
		sep = "&"
	}
	var ids []string
	cursor := ""
	for range 1000 {
		a := p.in("GET", fmt.Sprintf("%s%slimit=%d%s", path, sep, size, cursor), nil).want(200)
		if n := len(a.items()); n > size {
			p.t.Fatalf("%s: %d rows in a page of %d", path, n, size)
		}
		for _, row := range a.items() {
			ids = append(ids, fmt.Sprint(row["id"]))
		}
		next, more := a.Body["next_cursor"].(string)
		if more != (a.Header.Get("Link") != "") {
			p.t.Errorf("%s: Link %q with next_cursor %q", path, a.Header.Get("Link"), next)
		}
		if !more {
			return ids
		}
		cursor = "&cursor=" + next
	}
	p.t.Fatalf("%s: no end of pages", path)
	return nil
}
