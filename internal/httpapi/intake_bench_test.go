package httpapi

import (
	"bytes"
	"encoding/json"
	"fmt"
	"net/http"
	"net/http/httptest"
	"testing"

	"github.com/google/uuid"
)

// BenchmarkIntake is the whole edge and the database, without the network.
func BenchmarkIntake(b *testing.B) {
	e := openEdge(b)
	p := e.newGarden("maren@lowfield.example")
	site := p.in("POST", "/sites", doc{"name": "Shed", "kind": "shed"}).want(201).text("id")
	b.ReportAllocs()
	for b.Loop() {
		raw, err := json.Marshal(doc{"id": uuid.Must(uuid.NewV7()), "material": "apples", "site_id": site, "verdict": "accepted",
			"amount": doc{"method": "weighed", "mass": doc{"value": "9.4", "unit": "kg"}}})
		if err != nil {
			b.Fatal(err)
		}
		req := httptest.NewRequestWithContext(b.Context(), http.MethodPost, "/v1/gardens/"+p.garden+"/lots", bytes.NewReader(raw))
		req.Header.Set("Content-Type", "application/json")
		req.Header.Set("Authorization", "Bearer "+p.token)
		req.Header.Set("Idempotency-Key", fmt.Sprintf("%q", uuid.NewString()))
		rec := httptest.NewRecorder()
		e.handler.ServeHTTP(rec, req)
		if rec.Code != http.StatusCreated {
			b.Fatalf("%d %s", rec.Code, rec.Body)
		}
	}
}
