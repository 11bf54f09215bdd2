package httpapi

import (
	"context"
	"fmt"
	"sort"
	"strings"
	"testing"

	"github.com/getkin/kin-openapi/openapi3"
	"gopkg.in/yaml.v3"

	"midden/openapi"
)

func TestEveryExampleInTheContractFitsItsSchema(t *testing.T) {
	t.Parallel()
	c := sharedContract(t)
	if err := c.doc.Validate(context.Background(), openapi3.EnableExamplesValidation()); err != nil {
		t.Fatal(err)
	}
	if len(c.routes) < 100 {
		t.Fatalf("the contract lists %d operations", len(c.routes))
	}
}

func TestEveryOperationIsNamedShownAndRefusesInProblems(t *testing.T) {
	t.Parallel()
	c := sharedContract(t)
	seen := map[string]string{}
	for key, o := range c.routes {
		op := o.route.Operation
		if other, twice := seen[op.OperationID]; op.OperationID == "" || twice {
			t.Errorf("%s: operationId %q is missing or also that of %s", key, op.OperationID, other)
		}
		seen[op.OperationID] = key
		if op.Summary == "" || len(op.Tags) != 1 {
			t.Errorf("%s: needs a summary and one tag", key)
		}
		if op.RequestBody != nil {
			for name, m := range op.RequestBody.Value.Content {
				if m.Example == nil {
					t.Errorf("%s: its %s body has no example", key, name)
				}
			}
		}
		for _, fault := range responseFaults(o) {
			t.Errorf("%s: %s", key, fault)
		}
	}
}

func responseFaults(o *operation) []string {
	var faults []string
	op := o.route.Operation
	want := []string{"400", "500", "503"}
	if !o.public {
		want = append(want, "401")
	}
	if strings.Contains(o.route.Path, "{garden_id}") {
		want = append(want, "403", "404")
		if op.Extensions["x-roles"] == nil {
			faults = append(faults, "needs x-roles")
		}
	}
	if op.RequestBody != nil {
		want = append(want, "413", "415", "422")
	}
	for _, p := range op.Parameters {
		switch p.Value.Name {
		case "Idempotency-Key":
			want = append(want, "409", "422")
		case "If-Match":
			want = append(want, "409", "412", "428")
		}
	}
	for _, status := range want {
		if op.Responses.Value(status) == nil {
			faults = append(faults, "has no response "+status)
		}
	}
	good := 0
	for status, r := range op.Responses.Map() {
		if strings.HasPrefix(status, "2") {
			good++
			for name, m := range r.Value.Content {
				if m.Example == nil {
					faults = append(faults, fmt.Sprintf("its %s answer %s has no example", name, status))
				}
			}
			continue
		}
		if r.Value.Content.Get(problemType) == nil {
			faults = append(faults, status+" is not a problem document")
		}
	}
	if good != 1 {
		faults = append(faults, fmt.Sprintf("has %d good responses, not 1", good))
	}
	return faults
}

// The built-in validator reads exactly these keywords as OpenAPI 3.1 does.
var subset = map[string]bool{"type": true, "format": true, "enum": true, "properties": true, "required": true, "items": true,
	"additionalProperties": true, "minimum": true, "maximum": true, "minLength": true, "maxLength": true, "pattern": true,
	"minItems": true, "maxItems": true, "minProperties": true, "description": true, "example": true, "default": true, "$ref": true}

func TestTheContractKeepsToTheSubsetThatIsValidatedFast(t *testing.T) {
	t.Parallel()
	var doc struct {
		OpenAPI    string `yaml:"openapi"`
		Components struct {
			Schemas map[string]map[string]any `yaml:"schemas"`
		} `yaml:"components"`
	}
	if err := yaml.Unmarshal(openapi.YAML, &doc); err != nil {
		t.Fatal(err)
	}
	if doc.OpenAPI != "3.1.0" {
		t.Errorf("the contract says openapi %s", doc.OpenAPI)
	}
	names := make([]string, 0, len(doc.Components.Schemas))
	for name := range doc.Components.Schemas {
		names = append(names, name)
	}
	sort.Strings(names)
	for _, name := range names {
		for _, fault := range beyondSubset(name, doc.Components.Schemas[name]) {
			t.Error(fault)
		}
	}
}

func beyondSubset(where string, schema map[string]any) []string {
	var faults []string
	for key, v := range schema {
		if !subset[key] {
			faults = append(faults, where+": keyword "+key+" is outside the subset")
		}
		switch sub := v.(type) {
		case map[string]any:
			if key == "properties" {
				for name, p := range sub {
					if ps, ok := p.(map[string]any); ok {
						faults = append(faults, beyondSubset(where+"."+name, ps)...)
					}
				}
			} else if key == "items" || key == "additionalProperties" {
				faults = append(faults, beyondSubset(where+"."+key, sub)...)
			}
		case []any:
			if key == "type" && (len(sub) != 2 || sub[1] != "null") {
				faults = append(faults, where+": a list of types is a type and null")
			}
		}
	}
	return faults
}

func TestAKeywordBeyondTheSubsetIsFound(t *testing.T) {
	t.Parallel()
	bad := map[string]any{"type": "object", "properties": map[string]any{"x": map[string]any{"const": 1}}}
	if got := beyondSubset("Bad", bad); len(got) != 1 {
		t.Fatalf("found %v", got)
	}
}
