// Package obs makes the program's log: structured, one line an event, with the
// id of the request that caused it.
//
// It must not know what is logged. Start reading at NewLogger.
package obs
