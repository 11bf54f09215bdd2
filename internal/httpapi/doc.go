// Package httpapi is the REST edge: echo handlers that implement the generated
// interface, map wire types to the words of the farm and back, and turn
// refusals into problem documents.
//
// It must not decide anything: no rules, no SQL, no transactions. A handler
// decodes, calls one use case and renders. Start reading at server.go, then
// contract.go for what is checked before a handler runs, problem.go for how a
// refusal leaves, and logged.go for requests that may be retried.
package httpapi
