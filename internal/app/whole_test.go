package app

import (
	"bytes"
	"encoding/json"
	"io"
	"net/http"
	"strings"
	"testing"
	"time"

	"midden/internal/pgtest"
	"midden/openapi"
)

// call sends one request and reads its answer.
func (r *running) call(t *testing.T, method, path, token string, body any) (int, http.Header, []byte) {
	t.Helper()
	var raw []byte
	if body != nil {
		var err error
		if raw, err = json.Marshal(body); err != nil {
			t.Fatal(err)
		}
	}
	req, err := http.NewRequestWithContext(t.Context(), method, r.url+path, bytes.NewReader(raw))
	if err != nil {
		t.Fatal(err)
	}
	if body != nil {
		req.Header.Set("Content-Type", "application/json")
	}
	if token != "" {
		req.Header.Set("Authorization", "Bearer "+token)
	}
	client := http.Client{Transport: &http.Transport{DisableKeepAlives: true}, Timeout: 20 * time.Second}
	resp, err := client.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	answer, err := io.ReadAll(resp.Body)
	if err != nil {
		t.Fatal(err)
	}
	return resp.StatusCode, resp.Header, answer
}

func TestTheWholeProgramAnswersOnAFreePort(t *testing.T) {
	t.Parallel()
	r := boot(t, New(settingsOf(t, pgtest.New(t)), Options{Migrate: true}))
	for path, want := range map[string]int{"/livez": 200, "/readyz": 200, "/openapi.yaml": 200, "/v1/me": 401, "/v1/nothing": 404} {
		if status, _, body := r.call(t, http.MethodGet, path, "", nil); status != want {
			t.Errorf("%s: %d, want %d: %s", path, status, want, body)
		}
	}
	if gardens, err := r.Service().Store().GardenIDs(t.Context()); err != nil || len(gardens) != 0 {
		t.Errorf("a new database has gardens %v, %v", gardens, err)
	}
	if _, _, body := r.call(t, http.MethodGet, "/openapi.yaml", "", nil); !bytes.Equal(body, openapi.YAML) {
		t.Error("another contract is served than the one this program was built from")
	}
}

func TestAProgramWithoutItsSchemaIsUpButNotReady(t *testing.T) {
	t.Parallel()
	r := boot(t, New(settingsOf(t, pgtest.New(t, pgtest.Empty())), Options{}))
	if status, err := r.status(t, "/livez"); status != 200 || err != nil {
		t.Errorf("livez: %d, %v", status, err)
	}
	status, header, body := r.call(t, http.MethodGet, "/readyz", "", nil)
	if status != 503 || header.Get("Retry-After") == "" || strings.Contains(string(body), "schema_migrations") {
		t.Errorf("readyz: %d, Retry-After %q: %s", status, header.Get("Retry-After"), body)
	}
}

func TestAnAccountMadeByAnOperatorSignsIn(t *testing.T) {
	t.Parallel()
	cfg := settingsOf(t, pgtest.New(t))
	r := boot(t, New(cfg, Options{Migrate: true}))
	const email = "coordinator@lowfield.example"
	password, err := CreateAccount(t.Context(), cfg, Options{}, NewAccount{Email: email, Founder: true})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := CreateAccount(t.Context(), cfg, Options{}, NewAccount{Email: strings.ToUpper(email)}); err == nil {
		t.Error("one address was given out twice")
	}
	status, _, body := r.call(t, http.MethodPost, "/v1/sign-in", "", map[string]string{"email": email, "password": "three damp sponges"})
	if status != 401 {
		t.Errorf("a wrong password: %d: %s", status, body)
	}
	status, _, body = r.call(t, http.MethodPost, "/v1/sign-in", "", map[string]string{"email": email, "password": password})
	var tokens struct {
		Access string `json:"access_token"`
	}
	if err := json.Unmarshal(body, &tokens); status != 200 || err != nil {
		t.Fatalf("sign-in: %d, %v: %s", status, err, body)
	}
	status, _, body = r.call(t, http.MethodGet, "/v1/me", tokens.Access, nil)
	var me struct {
		Email   string `json:"email"`
		Name    string `json:"display_name"`
		Founder bool   `json:"may_found_gardens"`
	}
	if err := json.Unmarshal(body, &me); status != 200 || err != nil || me.Email != email || me.Name != "coordinator" || !me.Founder {
		t.Fatalf("me: %d, %v: %s", status, err, body)
	}
}
