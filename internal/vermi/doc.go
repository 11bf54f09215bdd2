// Package vermi is the science of the worm bin: geometry, mixes, appetite,
// backlog, worm stock, castings, advice and forecasts.
//
// It is pure: no I/O, no clock, no randomness. Every function takes the days
// it needs, and the same input gives the same output. It must not know gardens,
// members, the ledger, SQL or HTTP.
//
// Start reading at record.go (what is known of a bin), then state.go, which
// turns a Record into a State. The parts below stand alone: catalogue.go,
// geometry.go, mix.go, temperature.go, appetite.go, backlog.go, stock.go,
// castings.go. simulate.go is an independent day-by-day bin for demonstrations
// and tests. The sources of every figure stand beside it and in docs/method.md.
package vermi
