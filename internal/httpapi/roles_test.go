package httpapi

import (
	"encoding/json"
	"fmt"
	"net/http"
	"slices"
	"sort"
	"strings"
	"testing"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/google/uuid"

	"midden/internal/farm"
)

func TestTheServerServesWhatTheContractListsAndNothingElse(t *testing.T) {
	t.Parallel()
	e, err := New(Options{})
	if err != nil {
		t.Fatal(err)
	}
	served := map[string]bool{}
	for _, r := range e.Routes() {
		served[r.Method+" "+r.Path] = true
		if sharedContract(t).routes[r.Method+" "+r.Path] == nil {
			t.Errorf("%s %s is served and not in the contract", r.Method, r.Path)
		}
	}
	for key := range sharedContract(t).routes {
		if !served[key] {
			t.Errorf("%s is in the contract and not served", key)
		}
	}
}

// roles are those whom the contract lets do an operation; none: it is not of a garden.
func (o *operation) roles(t testing.TB) (roles []farm.Role) {
	t.Helper()
	x, ok := o.route.Operation.Extensions["x-roles"]
	if !ok {
		return nil
	}
	raw, err := json.Marshal(x)
	if err == nil {
		err = json.Unmarshal(raw, &roles)
	}
	if err != nil || len(roles) == 0 {
		t.Fatalf("%s: x-roles %v: %v", o.route.Operation.OperationID, x, err)
	}
	return roles
}

// asShown sends the contract's own example of an operation to the person's
// garden. Every id in the path but the garden's is of nothing.
func (p *person) asShown(o *operation) *answer {
	p.t.Helper()
	path, query, headers := o.route.Path, []string{}, []string{}
	for _, ref := range o.route.Operation.Parameters {
		x := ref.Value
		switch {
		case x.In == openapi3.ParameterInPath && x.Name == "garden_id":
			path = strings.ReplaceAll(path, "{garden_id}", p.garden)
		case x.In == openapi3.ParameterInPath && x.Schema.Value.Format == "uuid":
			path = strings.ReplaceAll(path, "{"+x.Name+"}", uuid.NewString())
		case x.In == openapi3.ParameterInPath:
			path = strings.ReplaceAll(path, "{"+x.Name+"}", fmt.Sprint(shown(x)))
		case x.In == openapi3.ParameterInQuery && x.Required:
			query = append(query, fmt.Sprintf("%s=%v", x.Name, shown(x)))
		case x.Name == "If-Match":
			headers = append(headers, "If-Match", `"1"`)
		}
	}
	if len(query) > 0 {
		path += "?" + strings.Join(query, "&")
	}
	var body any
	if b := o.route.Operation.RequestBody; b != nil {
		for kind, m := range b.Value.Content {
			body = m.Example
			headers = append(headers, "Content-Type", kind)
		}
	}
	return p.call(o.route.Method, path, body, headers...)
}

func shown(x *openapi3.Parameter) any {
	if x.Example != nil {
		return x.Example
	}
	return x.Schema.Value.Example
}

// inOrder are the operations on a garden, by id.
func (c *Contract) inOrder(t testing.TB) []*operation {
	t.Helper()
	var out []*operation
	for _, o := range c.routes {
		if o.roles(t) != nil {
			out = append(out, o)
		}
	}
	sort.Slice(out, func(i, j int) bool { return out[i].route.Operation.OperationID < out[j].route.Operation.OperationID })
	return out
}

// A role is looked at before anything else of the garden: whoever may not do
// an operation does not learn whether its bin is there.
func TestWhoTheContractDoesNotListIsRefusedBeforeAnythingIsLookedUp(t *testing.T) {
	e := newEdge(t)
	p, far := e.newGarden("maren@lowfield.example"), e.newGarden("tove@hillside.example")
	stranger := *far
	stranger.garden = p.garden
	people := map[farm.Role]*person{}
	for _, r := range []farm.Role{farm.Keeper, farm.Donor, farm.Observer} {
		people[r] = p.with(string(r), string(r)+"@lowfield.example")
	}
	refused := 0
	for _, o := range e.contract.inOrder(t) {
		id, roles := o.route.Operation.OperationID, o.roles(t)
		for role, one := range people {
			if slices.Contains(roles, role) {
				continue
			}
			refused++
			if got := one.asShown(o); got.Status != http.StatusForbidden || got.Body["code"] != "role.forbidden" {
				t.Errorf("%s as %s: %d %s", id, role, got.Status, got.Raw)
			}
		}
		if got := stranger.asShown(o); got.Status != http.StatusNotFound || got.Body["code"] != "garden.not_found" {
			t.Errorf("%s as a stranger: %d %s", id, got.Status, got.Raw)
		}
	}
	if refused < 200 {
		t.Errorf("only %d refusals were looked at", refused)
	}
}

// ownOnly are operations that everybody listed may do for themselves, and only
// a coordinator (to read: who sees people) for somebody else; the contract's
// example is of somebody else.
var ownOnly = map[string]bool{"createCover": true, "createHours": true, "getMember": true}

func TestWhoTheContractListsIsNotRefusedForTheirRole(t *testing.T) {
	e := newEdge(t)
	p := e.newGarden("maren@lowfield.example")
	people := map[farm.Role]*person{farm.Coordinator: p}
	for _, r := range []farm.Role{farm.Keeper, farm.Donor, farm.Observer} {
		people[r] = p.with(string(r), string(r)+"@lowfield.example")
	}
	for _, o := range e.contract.inOrder(t) {
		for _, role := range o.roles(t) {
			id, got := o.route.Operation.OperationID, people[role].asShown(o)
			forbidden := got.Body["code"] == "role.forbidden" && !ownOnly[id]
			if forbidden || got.Body["code"] == "garden.not_found" || got.Status >= 500 {
				t.Errorf("%s as %s: %d %s", id, role, got.Status, got.Raw)
			}
		}
	}
}
