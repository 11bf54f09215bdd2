// Package app wires the program together: settings to a database, a store, the
// use cases, the API and a server, started in that order and stopped in the
// other. It is the only package that may import all the others.
//
// It must hold no rule of the trade. Start reading at Program, which a test can
// boot on port 0, then database.go for where the database comes from.
package app
