package pgrun_test

import (
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/jackc/pgx/v5"

	"midden/internal/pgrun"
)

// A garden in containers and a garden with a private server must get the same roles and rights.
func TestTheDeploymentScriptMakesWhatProvisionMakes(t *testing.T) {
	t.Parallel()
	found, err := pgrun.Find(t.Context(), "")
	must(t, err)
	script, err := filepath.Abs("../../deploy/initdb/10-roles.sh")
	must(t, err)
	s := start(t, folder(t))

	const state = `SELECT string_agg(r, E'\n' ORDER BY r) FROM (
		SELECT concat_ws(' ', rolname, rolsuper, rolinherit, rolcreaterole, rolcreatedb, rolcanlogin, rolreplication, rolbypassrls, rolconnlimit) r
		FROM pg_roles WHERE rolname LIKE 'midden%'
		UNION ALL SELECT concat_ws(' ', datname, pg_get_userbyid(datdba), datacl) FROM pg_database WHERE datname = 'midden') x`
	want := ask[string](t, s.SuperDSN(), state)
	for _, sql := range []string{`DROP DATABASE midden`, `DROP ROLE midden_owner, midden_app`} {
		must(t, exec1(t, s.SuperDSN(), sql))
	}
	cfg, err := pgx.ParseConfig(s.SuperDSN())
	must(t, err)
	cmd := exec.Command("sh", script)
	cmd.Env = append(os.Environ(), "PATH="+found[0].Dir+":"+os.Getenv("PATH"), "PGHOST="+cfg.Host, "PGPORT=5432",
		"POSTGRES_USER=postgres", "MIDDEN_OWNER_PASSWORD=it's $HOME", `MIDDEN_APP_PASSWORD=a"b\c`)
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	if got := ask[string](t, s.SuperDSN(), state); got != want {
		t.Errorf("the script makes\n%s\nand Provision\n%s", got, want)
	}
}
