// Package ledger is double entry in grams: accounts, substances, entries and
// postings, what makes an entry valid, and the canonical bytes it is hashed by.
//
// It must not know SQL, HTTP, a clock, or why something was moved: use cases
// build entries, this package says whether they hold. Start reading at Entry.
package ledger
