// Package measure holds the quantities of the trade: grams, millilitres,
// degrees Celsius and percent, with metric and US units for the way in and
// out, and the civil days on which things happen.
//
// It must not know what is being measured: no bins, no scraps, no ledger.
// Start reading at Quantity, which turns what a person entered into integer
// grams or millilitres exactly once, and at Day.
package measure
