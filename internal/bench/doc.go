// Command bench measures Midden side by side with what bounds it, in one run
// on one Postgres: taking in a lot against pgbench running the same statements
// in the same round trips, and reading a bin's state against a bare handler
// that runs the same SQL with no checks at all. Each side is a process of its
// own, as is the client that loads it. These are measurements, never tests.
//
// Start reading at main.go; capture.go finds out what the service really
// sends, so that the comparison can't drift from the code.
package main
