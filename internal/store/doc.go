// Package store keeps the garden in Postgres: SQL beside its Go, one file per
// aggregate, private row structs, one translator from database errors to the
// words of the trade.
//
// It must not know who may do what, nor HTTP: it stores what service decided.
// Start reading at Store.InTx and Store.Read. Every read is queued on a Batch
// and answered in one round trip; a write queues its reads, flushes, decides,
// and queues its writes, which go out together with COMMIT. So a write can't look
// at its outcome: whatever decides is read, and locked, before.
package store
