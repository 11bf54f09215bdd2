// Package service holds the use cases: authorise, validate, one transaction,
// the pure rules, the store. It calls the store directly.
//
// It must not know HTTP or the wire, and it reads the clock once per use case.
// Start reading at write in write.go, then lots.go, the pattern that every
// other aggregate follows.
package service
