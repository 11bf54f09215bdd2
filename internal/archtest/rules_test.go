package archtest

import "regexp"

const module = "midden"

// pure are the rooms that know no SQL, HTTP, clock or I/O.
var pure = []string{"measure", "farm", "ledger", "vermi", "season", "planner"}

// arrows says which rooms a room may import. A room is a folder of internal/ with all below it, or api, cmd, openapi or
// migrations. What is not listed is forbidden.
var arrows = map[string][]string{
	"measure":  {},
	"farm":     {"measure"},
	"ledger":   {"measure", "farm"},
	"vermi":    {"measure", "farm"},
	"season":   {"measure", "farm", "ledger"},
	"planner":  {"measure", "farm", "vermi"},
	"exchange": {"measure", "farm", "season"},
	"auth":     {"farm"},
	"store":    with(pure, "obs", "config"),
	"service":  with(pure, "exchange", "auth", "store", "obs", "config"),
	"httpapi":  with(pure, "api", "openapi", "service", "exchange", "auth", "obs", "config"),
	"web":      with(pure, "service", "exchange", "auth", "obs", "config"),
	"jobs":     {"service", "obs", "config"},
	"demo":     with(pure, "service"),
	"config":   {},
	"obs":      {},

	"api":        {},
	"openapi":    {},
	"migrations": {},
	"pgrun":      {},
	"pgtest":     {"pgrun", "migrations"},
	"archtest":   {},

	"app": with(pure, "exchange", "auth", "store", "service", "httpapi", "web", "jobs", "demo", "config", "obs", "pgrun",
		"api", "openapi", "migrations"),
	"cmd": {"app"},
	// Measures the program beside what bounds it; a program of its own, and no part of Midden.
	"bench": with(pure, "auth", "store", "service", "pgrun", "migrations"),
}

// testArrows may be imported by every test, beside all that the room reaches through its arrows.
var testArrows = []string{"pgtest", "pgrun", "migrations", "openapi", "api"}

// apart are pairs that no chain of reasons may join, in tests neither.
var apart = [][2]string{{"httpapi", "web"}}

// pureModules says which modules beside the standard library a pure room may use.
var pureModules = map[string][]string{
	"measure": {},
	"farm":    {"github.com/google/uuid"},
	"ledger":  {"github.com/google/uuid"},
	"vermi":   {"github.com/google/uuid"},
	"season":  {"github.com/google/uuid"},
	"planner": {"github.com/google/uuid"},
}

// impure are standard packages that do I/O, or stand for it; a pure room uses none. harmless are exceptions below them.
var (
	impure   = []string{"os", "net", "database", "log", "syscall", "io/fs", "io/ioutil", "path/filepath", "plugin", "testing", "html/template"}
	harmless = []string{"net/url", "net/mail", "net/netip"}
)

// adapters says which rooms alone may use a library that ties code to one technology.
var adapters = map[string][]string{
	"github.com/jackc/pgx":                 {"store", "jobs", "migrations", "pgrun", "pgtest", "app", "bench"},
	"github.com/riverqueue":                {"store", "jobs", "migrations", "app"},
	"database/sql":                         {"store", "migrations"},
	"github.com/golang-migrate":            {"migrations"},
	"github.com/testcontainers":            {"pgtest"},
	"github.com/labstack/echo":             {"api", "httpapi", "web", "obs", "app", "bench"},
	"github.com/getkin/kin-openapi":        {"api", "httpapi", "openapi"},
	"github.com/golang-jwt":                {"auth"},
	"golang.org/x/crypto":                  {"auth"},
	"html/template":                        {"web"},
	"github.com/alecthomas/kong":           {"app", "cmd"},
	"github.com/oapi-codegen/oapi-codegen": {},
}

// barred are references that only some rooms may hold. Tests are free.
var barred = []struct {
	pkg     string
	name    *regexp.Regexp
	allowed []string
	instead string
}{
	{"time", regexp.MustCompile(`^(Now|Since|Until|Sleep)$`), []string{"app", "cmd", "obs", "pgrun", "pgtest", "bench"},
		"take the instant from the injected clock"},
	{"context", regexp.MustCompile(`^(Background|TODO)$`), []string{"app", "cmd", "pgrun", "pgtest", "bench"},
		"take the caller's context"},
	{"fmt", regexp.MustCompile(`^Print(f|ln)?$`), []string{"cmd", "bench"},
		"return a value, write to a given writer, or log"},
}

// barredSQL must stand in no statement: a migration that adds a column would change what the code reads.
var barredSQL = regexp.MustCompile(`(?i)\bselect\s+\*`)

// barredNames say nothing about what a package is for.
var barredNames = []string{"util", "utils", "helper", "helpers", "manager", "common"}

// lineLimit is for files that people write.
const lineLimit = 500

func with(base []string, more ...string) []string {
	return append(append([]string{}, base...), more...)
}
