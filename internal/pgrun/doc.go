// Package pgrun runs a private Postgres server from the binaries on this computer, so that one command is enough to try
// Midden and a small garden needs no database administrator.
//
// The server listens on a Unix socket in a private folder and nowhere else. It keeps its data across restarts, recovers
// after a crash of either process, and touches no cluster that it did not make. Provision, which makes the two roles that
// Midden works with, is used on every other server too.
//
// The package must know nothing of gardens, tables or migrations: it hands out connection strings, and others use them.
//
// Start reading at Start.
package pgrun
