package httpapi

import (
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"regexp"
	"sort"
	"strings"
	"sync"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/getkin/kin-openapi/openapi3filter"
	"github.com/getkin/kin-openapi/routers"
	"github.com/labstack/echo/v4"

	"midden/internal/farm"
	"midden/openapi"
)

// Contract is the embedded contract, compiled once. It finds an operation by
// the route that echo matched, so nothing is matched twice.
type Contract struct {
	doc    *openapi3.T
	routes map[string]*operation // method and echo path
}

type operation struct {
	route  *routers.Route
	params []string // path parameters, in order
	query  map[string]bool
	public bool
}

// LoadContract gives the embedded contract, parsed once. That it is sound is a
// matter of tests, not of every start.
func LoadContract() (*Contract, error) { return loadContract() }

var loadContract = sync.OnceValues(func() (*Contract, error) {
	defineFormats()
	doc, err := openapi3.NewLoader().LoadFromData(openapi.YAML)
	if err != nil {
		return nil, fmt.Errorf("read the contract: %w", err)
	}
	c := &Contract{doc: doc, routes: map[string]*operation{}}
	// The library compiles 3.1 schemas anew for every request. The contract
	// keeps to the subset that its built-in validator reads the same way, so
	// the routes say 3.0 and validation costs microseconds.
	spec := *doc
	spec.OpenAPI = "3.0.3"
	for path, item := range doc.Paths.Map() {
		for method, op := range item.Operations() {
			c.routes[method+" "+echoPath(path)] = newOperation(&spec, path, item, method, op)
		}
	}
	return c, nil
})

func newOperation(spec *openapi3.T, path string, item *openapi3.PathItem, method string, op *openapi3.Operation) *operation {
	o := &operation{
		route:  &routers.Route{Spec: spec, Path: path, PathItem: item, Method: method, Operation: op},
		query:  map[string]bool{},
		public: op.Security != nil && len(*op.Security) == 0,
	}
	for _, p := range op.Parameters {
		switch p.Value.In {
		case openapi3.ParameterInPath:
			o.params = append(o.params, p.Value.Name)
		case openapi3.ParameterInQuery:
			o.query[p.Value.Name] = true
		}
	}
	return o
}

// echoPath turns /v1/gardens/{garden_id} into /v1/gardens/:garden_id.
func echoPath(path string) string {
	return strings.NewReplacer("{", ":", "}", "").Replace(path)
}

func (c *Contract) operation(ctx echo.Context) *operation {
	return c.routes[ctx.Request().Method+" "+ctx.Path()]
}

// validate holds a request against the contract. It fails with farm errors
// request.malformed, request.media_type or request.too_large.
func (c *Contract) validate(ctx echo.Context, op *operation) error {
	req := ctx.Request()
	query, err := url.ParseQuery(req.URL.RawQuery)
	if err != nil {
		return farm.Refuse("request.malformed", "query", "the query string is not well formed")
	}
	if err := op.unknownQuery(query); err != nil {
		return err
	}
	path := make(map[string]string, len(op.params))
	for _, name := range op.params {
		path[name] = ctx.Param(name)
	}
	in := &openapi3filter.RequestValidationInput{
		Request: req, PathParams: path, QueryParams: query, Route: op.route,
		Options: &openapi3filter.Options{
			MultiError: true, SkipSettingDefaults: true,
			AuthenticationFunc: openapi3filter.NoopAuthenticationFunc,
		},
	}
	if err := openapi3filter.ValidateRequest(req.Context(), in); err != nil {
		return contractError(err)
	}
	return nil
}

func (o *operation) unknownQuery(query url.Values) error {
	var unknown []string
	for name := range query {
		if !o.query[name] {
			unknown = append(unknown, name)
		}
	}
	if len(unknown) == 0 {
		return nil
	}
	sort.Strings(unknown)
	var faults farm.Faults
	for _, name := range unknown {
		faults.Add("request.malformed", name, "unknown query parameter %q", name)
	}
	return faults.Err()
}

// contractError turns what the validator says into refusals with a pointer each.
func contractError(err error) error {
	var tooLarge *http.MaxBytesError
	if errors.As(err, &tooLarge) {
		return farm.Refuse("request.too_large", "", "the body must not be larger than %d bytes", tooLarge.Limit)
	}
	var faults farm.Faults
	collect(err, "", &faults)
	if e := faults.Err(); e != nil {
		return e
	}
	return farm.Refuse("request.malformed", "", "%s", err.Error())
}

func collect(err error, where string, faults *farm.Faults) {
	switch e := err.(type) { //nolint:errorlint // a tree of errors is walked by its own types
	case openapi3.MultiError:
		for _, sub := range e {
			collect(sub, where, faults)
		}
	case *openapi3filter.RequestError:
		collectRequest(e, faults)
	case *openapi3.SchemaError:
		faults.Add("request.malformed", where+pointer(faultyPath(e)), "%s", reason(e))
	default:
		faults.Add("request.malformed", where, "%s", firstLine(err.Error()))
	}
}

func collectRequest(e *openapi3filter.RequestError, faults *farm.Faults) {
	switch {
	case strings.HasPrefix(e.Reason, "header Content-Type"):
		faults.Add("request.media_type", "", "%s", e.Reason)
	case e.Parameter != nil && e.Err != nil:
		before := faults.Len()
		collect(e.Err, e.Parameter.Name, faults)
		if faults.Len() == before {
			faults.Add("request.malformed", e.Parameter.Name, "%s", firstLine(e.Err.Error()))
		}
	case e.Err != nil:
		var parse *openapi3filter.ParseError
		if errors.As(e.Err, &parse) {
			faults.Add("request.malformed", "", "the body is not well-formed JSON")
			return
		}
		collect(e.Err, "", faults)
	default:
		faults.Add("request.malformed", "", "%s", e.Reason)
	}
}

var propertyNamed = regexp.MustCompile(`^property "(.+)" is (?:unsupported|missing)`)

// faultyPath is where the fault lies. For a property that is missing or does
// not belong the validator names it only in its message.
func faultyPath(e *openapi3.SchemaError) []string {
	path := e.JSONPointer()
	m := propertyNamed.FindStringSubmatch(e.Reason)
	if m != nil && (len(path) == 0 || path[len(path)-1] != m[1]) {
		path = append(path, m[1])
	}
	return path
}

func pointer(path []string) string {
	var b strings.Builder
	for _, p := range path {
		b.WriteByte('/')
		b.WriteString(strings.NewReplacer("~", "~0", "/", "~1").Replace(p))
	}
	return b.String()
}

func reason(e *openapi3.SchemaError) string {
	if e.Reason != "" {
		return firstLine(e.Reason)
	}
	return "does not match " + e.SchemaField
}

func firstLine(s string) string {
	line, _, _ := strings.Cut(s, "\n")
	return line
}
