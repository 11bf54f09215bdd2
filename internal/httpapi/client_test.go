package httpapi

import (
	"context"
	"net/http"
	"reflect"
	"strconv"
	"testing"

	"github.com/google/uuid"

	"midden/api/client"
)

// The generated client is what other programs are built with.
func TestTheGeneratedClientSignsInFoundsAGardenAndTakesInALot(t *testing.T) {
	e := newEdge(t)
	if _, err := e.svc.NewAccount(t.Context(), "maren@lowfield.example", "Maren Holt", password, true); err != nil {
		t.Fatal(err)
	}
	var token string
	c, err := client.NewClientWithResponses(e.url, client.WithRequestEditorFn(func(_ context.Context, r *http.Request) error {
		if token != "" {
			r.Header.Set("Authorization", "Bearer "+token)
		}
		return nil
	}))
	if err != nil {
		t.Fatal(err)
	}
	wrong, err := c.SignInWithResponse(t.Context(), client.SignIn{Email: "maren@lowfield.example", Password: "three dry sponges"})
	if err != nil || wrong.ApplicationproblemJSON401 == nil || wrong.ApplicationproblemJSON401.Code != "login.refused" {
		t.Fatalf("a wrong password: %v, %s", err, wrong.Body)
	}
	in, err := c.SignInWithResponse(t.Context(), client.SignIn{Email: "maren@lowfield.example", Password: password})
	if err != nil || in.JSON200 == nil {
		t.Fatalf("sign in: %v, %s", err, in.Body)
	}
	token = in.JSON200.AccessToken
	key := strconv.Quote(uuid.NewString())
	garden, err := c.CreateGardenWithResponse(t.Context(), &client.CreateGardenParams{IdempotencyKey: key},
		client.GardenNew{Name: "Lowfield Terrace Garden", TimeZone: "Europe/Lisbon", Hemisphere: client.North, Units: client.Metric})
	if err != nil || garden.JSON201 == nil {
		t.Fatalf("found a garden: %v, %s", err, garden.Body)
	}
	home := garden.JSON201.Id
	site, err := c.CreateSiteWithResponse(t.Context(), home, &client.CreateSiteParams{IdempotencyKey: key},
		client.SiteNew{Name: "Shed", Kind: client.SiteKindShed})
	if err != nil || site.JSON201 == nil {
		t.Fatalf("add a site: %v, %s", err, site.Body)
	}
	accepted := client.IntakeVerdictAccepted
	made, err := c.TakeInLotWithResponse(t.Context(), home, &client.TakeInLotParams{IdempotencyKey: key}, client.LotNew{Material: "apples",
		SiteId: site.JSON201.Id, Verdict: &accepted, Amount: client.Amount{Method: client.AmountMethodWeighed,
			Mass: &client.Measure{Value: "9.4", Unit: client.Kg}, Tare: &client.Measure{Value: "0.9", Unit: client.Kg}}})
	if err != nil || made.JSON201 == nil {
		t.Fatalf("take in a lot: %v, %s", err, made.Body)
	}
	read, err := c.GetLotWithResponse(t.Context(), home, made.JSON201.Id)
	if err != nil || read.JSON200 == nil {
		t.Fatalf("read the lot: %v, %s", err, read.Body)
	}
	if read.JSON200.MassG != 8500 || !reflect.DeepEqual(read.JSON200, made.JSON201) { // 9.4 kg gross less 0.9 kg tare
		t.Errorf("reads back %s after %s", read.Body, made.Body)
	}
}
