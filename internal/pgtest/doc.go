// Package pgtest gives each test a Postgres database of its own, with the schema in place, in a few milliseconds.
//
//	func TestMain(m *testing.M) { pgtest.Main(m) }
//
//	func TestSomething(t *testing.T) {
//		t.Parallel()
//		db := pgtest.New(t)
//		// db.App is a pool of the role that serves, db.Owner of the role that migrates.
//	}
//
// The server is, in this order: the one that MIDDEN_TEST_DATABASE_URL names (a superuser's connection string; set but
// unreachable is a failure), a private one from local binaries, a container. With none of them the test fails and says
// what to install: a test that needs a database never passes without one. MIDDEN_TEST_PG=env, local or docker allows
// that one only. Command withpg starts one server for a whole `go test ./...`.
//
// The package knows the migrations as a pile of files and nothing of what they mean. Start reading at New.
package pgtest
