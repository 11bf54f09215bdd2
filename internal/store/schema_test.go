package store_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/jackc/pgx/v5"

	"midden/internal/pgtest"
	"midden/internal/store"
	"midden/migrations"
)

// rows reads a query of text columns.
func rows(t testing.TB, db *pgtest.DB, sql string) [][]string {
	t.Helper()
	r, err := db.Owner.Query(t.Context(), sql)
	if err != nil {
		t.Fatal(err)
	}
	list, err := pgx.CollectRows(r, func(row pgx.CollectableRow) ([]string, error) {
		values := make([]string, len(row.FieldDescriptions()))
		into := make([]any, len(values))
		for i := range values {
			into[i] = &values[i]
		}
		return values, row.Scan(into...)
	})
	if err != nil {
		t.Fatal(err)
	}
	return list
}

// tenantTables are all tables of the schema but the global ones.
func tenantTables(t testing.TB, db *pgtest.DB) []string {
	var out []string
	for _, r := range rows(t, db, `SELECT 'midden.' || relname FROM pg_class
		WHERE relnamespace = 'midden'::regnamespace AND relkind IN ('r', 'p') ORDER BY 1`) {
		if _, global := store.GlobalTables[r[0]]; !global {
			out = append(out, r[0])
		}
	}
	if len(out) < 14 {
		t.Fatalf("got only %d tenant tables: %v", len(out), out)
	}
	return out
}

func TestEveryTenantTableIsHeldToItsGarden(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t)
	flags := map[string][]string{}
	for _, r := range rows(t, db, `SELECT 'midden.' || relname, relrowsecurity::text, relforcerowsecurity::text
		FROM pg_class WHERE relnamespace = 'midden'::regnamespace AND relkind IN ('r', 'p')`) {
		flags[r[0]] = r[1:]
	}
	const rule = "(garden_id = midden.garden())"
	policies := map[string][]string{}
	for _, r := range rows(t, db, `SELECT 'midden.' || c.relname, p.polname, p.polcmd::text, p.polpermissive::text,
		       coalesce(pg_get_expr(p.polqual, p.polrelid), ''), coalesce(pg_get_expr(p.polwithcheck, p.polrelid), ''),
		       (p.polroles = '{0}')::text
		FROM pg_policy p JOIN pg_class c ON c.oid = p.polrelid ORDER BY 1, 2`) {
		table, name, rest := r[0], r[1], r[2:]
		if _, global := store.GlobalTables[table]; global {
			continue
		}
		switch {
		case name == "tenant":
			if !slices.Equal(rest, []string{"*", "true", rule, rule, "true"}) {
				t.Errorf("%s: policy tenant is %q", table, rest)
			}
		case name == "own" && (table == "midden.gardens" || table == "midden.memberships"):
			if rest[0] != "r" || !strings.Contains(rest[2], "(midden.garden() IS NULL)") || !strings.Contains(rest[2], "midden.account()") {
				t.Errorf("%s: policy own is %q", table, rest)
			}
		case name == "directory" && table == "midden.gardens":
			if rest[0] != "r" || rest[4] != "false" {
				t.Errorf("%s: policy directory must be the owner's to read: %q", table, rest)
			}
		default:
			t.Errorf("%s: a policy nobody expects: %s %q", table, name, rest)
		}
		policies[table] = append(policies[table], name)
	}
	for _, table := range tenantTables(t, db) {
		if f := flags[table]; f[0] != "true" || f[1] != "true" {
			t.Errorf("%s: row-level security enabled %s, forced %s", table, f[0], f[1])
		}
		if !slices.Contains(policies[table], "tenant") {
			t.Errorf("%s: has no policy tenant", table)
		}
	}
	for table := range store.GlobalTables {
		if flags[table] == nil {
			t.Errorf("%s is listed as global but is not there", table)
		}
	}
	if f := flags["midden.once_keys"]; f[0] != "true" || f[1] != "true" {
		t.Error("midden.once_keys must be held to its account by forced row-level security")
	}
}

func TestEveryKeyLeadsWithTheGarden(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t)
	tenant := tenantTables(t, db)
	for _, r := range rows(t, db, `SELECT 'midden.' || c.relname, k.conname, k.contype::text,
		       (SELECT a.attname FROM pg_attribute a WHERE a.attrelid = c.oid AND a.attnum = k.conkey[1]),
		       coalesce('midden.' || f.relname, '')
		FROM pg_constraint k JOIN pg_class c ON c.oid = k.conrelid LEFT JOIN pg_class f ON f.oid = k.confrelid
		WHERE c.relnamespace = 'midden'::regnamespace AND k.contype IN ('p', 'u', 'f', 'x')`) {
		table, name, kind, first, referenced := r[0], r[1], r[2], r[3], r[4]
		if !slices.Contains(tenant, table) {
			continue
		}
		if _, global := store.GlobalTables[referenced]; kind == "f" && global {
			continue
		}
		if first != "garden_id" {
			t.Errorf("%s: %s leads with %s, not garden_id", table, name, first)
		}
	}
	for _, r := range rows(t, db, `SELECT 'midden.' || c.relname, i.relname,
		       (SELECT a.attname FROM pg_attribute a WHERE a.attrelid = c.oid AND a.attnum = x.indkey[0])
		FROM pg_index x JOIN pg_class c ON c.oid = x.indrelid JOIN pg_class i ON i.oid = x.indexrelid
		WHERE c.relnamespace = 'midden'::regnamespace AND x.indisunique`) {
		if slices.Contains(tenant, r[0]) && r[2] != "garden_id" {
			t.Errorf("%s: unique index %s leads with %s, not garden_id", r[0], r[1], r[2])
		}
	}
	keyed := map[string]bool{}
	for _, r := range rows(t, db, `SELECT 'midden.' || c.relname FROM pg_constraint k JOIN pg_class c ON c.oid = k.conrelid
		WHERE k.contype = 'p' AND c.relnamespace = 'midden'::regnamespace`) {
		keyed[r[0]] = true
	}
	for _, table := range tenant {
		if !keyed[table] {
			t.Errorf("%s has no primary key", table)
		}
	}
}

func TestTheServingRoleOwnsNothingAndBypassesNothing(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t)
	for what, sql := range map[string]string{
		"owns":         `SELECT relname FROM pg_class WHERE relowner = 'midden_app'::regrole`,
		"owns routine": `SELECT proname FROM pg_proc WHERE proowner = 'midden_app'::regrole`,
		"may too much": `SELECT rolname FROM pg_roles WHERE rolname = 'midden_app' AND (rolsuper OR rolbypassrls OR rolcreatedb OR rolcreaterole)`,
		"may create":   `SELECT nspname FROM pg_namespace WHERE nspname = 'midden' AND has_schema_privilege('midden_app', oid, 'CREATE')`,
		"is member of": `SELECT roleid::regrole::text FROM pg_auth_members WHERE member = 'midden_app'::regrole`,
		"may truncate": `SELECT relname FROM pg_class WHERE relnamespace = 'midden'::regnamespace AND relkind = 'r' AND has_table_privilege('midden_app', oid, 'TRUNCATE')`,
		"may change the ledger": `SELECT t FROM unnest('{midden.entries,midden.postings}'::text[]) t
			WHERE has_table_privilege('midden_app', t, 'UPDATE') OR has_table_privilege('midden_app', t, 'DELETE')`,
	} {
		for _, r := range rows(t, db, sql) {
			t.Errorf("midden_app %s %s", what, r[0])
		}
	}
}

func TestWithoutAGardenNoRowIsSeen(t *testing.T) {
	t.Parallel()
	p := setup(t)
	other := makePlot(t, p.db, p.s)
	count := func(sql string, sc *store.Scope) (n int) {
		t.Helper()
		err := pgx.BeginFunc(t.Context(), p.db.App, func(tx pgx.Tx) error {
			if sc != nil {
				if _, err := tx.Exec(t.Context(), `SELECT set_config('midden.garden_id', $1, true)`, sc.Garden.String()); err != nil {
					return err
				}
			}
			return tx.QueryRow(t.Context(), sql).Scan(&n)
		})
		if sqlState(err) == "42501" {
			return 0 // no right to read at all
		}
		if err != nil {
			t.Fatal(err)
		}
		return n
	}
	for _, table := range tenantTables(t, p.db) {
		if n := count(`SELECT count(*) FROM `+table, nil); n != 0 {
			t.Errorf("%s shows %d rows without a garden", table, n)
		}
		if n := count(`SELECT count(*) FROM `+table+` WHERE garden_id <> midden.garden()`, &p.scope); n != 0 {
			t.Errorf("%s shows %d rows of another garden", table, n)
		}
	}
	if n := count(`SELECT count(*) FROM midden.sites`, &other.scope); n != 1 {
		t.Errorf("got %d sites inside a garden, want its 1", n)
	}
	ids, err := p.s.GardenIDs(t.Context())
	p.must(err)
	if len(ids) != 2 {
		t.Errorf("schedulers see %d gardens, want 2", len(ids))
	}
	if n := count(`SELECT count(*) FROM midden.gardens`, nil); n != 0 {
		t.Errorf("midden_app sees %d gardens without a garden or an account", n)
	}
}

func TestARowOfAnotherGardenCannotBeWritten(t *testing.T) {
	t.Parallel()
	p := setup(t)
	other := makePlot(t, p.db, p.s)
	err := pgx.BeginFunc(t.Context(), p.db.App, func(tx pgx.Tx) error {
		if _, err := tx.Exec(t.Context(), `SELECT set_config('midden.garden_id', $1, true)`, p.scope.Garden.String()); err != nil {
			return err
		}
		_, err := tx.Exec(t.Context(), `INSERT INTO midden.sites (garden_id, site_id, name, kind, created_at, content_sha256)
			VALUES ($1, $2, 'Barn', 'shed', now(), decode(repeat('00', 32), 'hex'))`, other.scope.Garden, id())
		return err
	})
	if sqlState(err) != "42501" {
		t.Errorf("got %v, want the policy to refuse", err)
	}
}

func TestPoliciesUseTheIndex(t *testing.T) {
	t.Parallel()
	p := setup(t)
	var plan strings.Builder
	err := pgx.BeginFunc(t.Context(), p.db.App, func(tx pgx.Tx) error {
		for _, sql := range []string{`SET LOCAL enable_seqscan = off`, `SELECT set_config('midden.garden_id', '` + p.scope.Garden.String() + `', true)`} {
			if _, err := tx.Exec(t.Context(), sql); err != nil {
				return err
			}
		}
		r, err := tx.Query(t.Context(), `EXPLAIN (COSTS OFF) SELECT name FROM midden.households WHERE name_folded >= 'a' AND name_folded < 'b'`)
		if err != nil {
			return err
		}
		lines, err := pgx.CollectRows(r, pgx.RowTo[string])
		plan.WriteString(strings.Join(lines, "\n"))
		return err
	})
	p.must(err)
	// Inlined, the function is gone and both conditions are the index's.
	got := plan.String()
	if !strings.Contains(got, "households_by_name") || !strings.Contains(got, "Index Cond: ((garden_id =") ||
		strings.Contains(got, "midden.garden()") || !strings.Contains(got, "name_folded >= 'a'") {
		t.Errorf("the policy keeps the index from being used:\n%s", got)
	}
}

func TestMigrationsGoUpDownAndUpAgain(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t, pgtest.Empty())
	shape := func() [][]string {
		return rows(t, db, `
			SELECT 'column', c.relname || '.' || a.attname, format_type(a.atttypid, a.atttypmod) || a.attnotnull::text
			  FROM pg_class c JOIN pg_attribute a ON a.attrelid = c.oid AND a.attnum > 0 AND NOT a.attisdropped
			 WHERE c.relnamespace = (SELECT oid FROM pg_namespace WHERE nspname = 'midden')
			UNION ALL SELECT 'constraint', k.conname, pg_get_constraintdef(k.oid) FROM pg_constraint k
			 WHERE k.connamespace = (SELECT oid FROM pg_namespace WHERE nspname = 'midden')
			UNION ALL SELECT 'routine', p.proname, md5(p.prosrc) FROM pg_proc p
			 WHERE p.pronamespace = (SELECT oid FROM pg_namespace WHERE nspname = 'midden')
			ORDER BY 1, 2, 3`)
	}
	step := func(name string, err error) {
		t.Helper()
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
	}
	step("up", migrations.Up(t.Context(), db.OwnerDSN))
	first := shape()
	step("down", migrations.Down(t.Context(), db.OwnerDSN))
	if left := rows(t, db, `SELECT nspname FROM pg_namespace WHERE nspname = 'midden'`); len(left) != 0 {
		t.Error("down left the schema behind")
	}
	step("up again", migrations.Up(t.Context(), db.OwnerDSN))
	if second := shape(); !slices.EqualFunc(first, second, slices.Equal) {
		t.Error("the schema differs after down and up")
	}
	if len(first) < 100 {
		t.Errorf("looked at only %d parts of the schema", len(first))
	}
}
