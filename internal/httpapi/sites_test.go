package httpapi

import (
	"testing"

	"github.com/google/uuid"
)

func TestACoordinatorNotesASiteAndChangesIt(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	made := p.in("POST", "/sites", doc{"name": "Potting shed", "kind": "shed", "freezer_l": 60}).want(201)
	if made.Header.Get("Location") != "/v1/gardens/"+p.garden+"/sites/"+made.text("id") {
		t.Errorf("Location %q", made.Header.Get("Location"))
	}
	at := "/sites/" + made.text("id")
	changed := p.in("PATCH", at, doc{"name": "Old shed", "freezer_l": nil}, "If-Match", made.Header.Get("ETag")).want(200)
	if changed.text("name") != "Old shed" || changed.Body["freezer_l"] != nil || changed.grams("version") != 2 {
		t.Errorf("changed to %s", changed.Raw)
	}
	p.in("PATCH", at, doc{"name": "Shed"}, "If-Match", made.Header.Get("ETag")).refused(412, "version.stale", "")
	p.in("PATCH", at, doc{"name": "Shed"}).refused(428, "version.missing", "If-Match")
	p.in("PATCH", at, doc{"nom": "Shed"}, "If-Match", `"2"`).refused(400, "request.malformed", "/nom")
}

func TestASiteSentTwiceIsNotedOnce(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	key := `"one-tap-too-many"`
	first := p.in("POST", "/sites", doc{"name": "Shed", "kind": "shed"}, "Idempotency-Key", key).want(201)
	again := p.in("POST", "/sites", doc{"name": "Shed", "kind": "shed"}, "Idempotency-Key", key).want(201)
	if string(first.Raw) != string(again.Raw) || again.Header.Get("Idempotency-Replayed") != "true" {
		t.Errorf("replayed %q as %s after %s", again.Header.Get("Idempotency-Replayed"), again.Raw, first.Raw)
	}
	p.in("POST", "/sites", doc{"name": "Barn", "kind": "shed"}, "Idempotency-Key", key).refused(422, "request.key_reused", "")
	p.in("POST", "/sites", doc{"name": "Barn", "kind": "shed"}, "Idempotency-Key", "").refused(400, "request.malformed", "Idempotency-Key")
	if n := len(p.in("GET", "/sites", nil).want(200).items()); n != 1 {
		t.Errorf("%d sites", n)
	}
}

func TestAnotherGardensSiteIsNotThere(t *testing.T) {
	e := newEdge(t)
	p, stranger := e.newGarden("maren@lowfield.example"), e.newGarden("tove@hillside.example")
	id := p.in("POST", "/sites", doc{"name": "Shed", "kind": "shed"}).want(201).text("id")
	stranger.in("GET", "/sites/"+id, nil).refused(404, "site.not_found", "")
	stranger.garden = p.garden
	stranger.in("GET", "/sites/"+id, nil).refused(404, "garden.not_found", "")
	stranger.garden = uuid.NewString()
	stranger.in("GET", "/sites", nil).refused(404, "garden.not_found", "")
}

func TestASiteNeedsASignedInPerson(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	p.in("POST", "/sites", doc{"name": "Shed", "kind": "crater"}).refused(400, "request.malformed", "/kind")
	p.token = ""
	p.in("GET", "/sites", nil).refused(401, "token.missing", "")
	p.token = "eyJhbGciOiJub25lIn0.e30."
	p.in("GET", "/sites", nil).refused(401, "token.invalid", "")
}
