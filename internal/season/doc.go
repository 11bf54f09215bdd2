// Package season knows a garden's calendar of seasons, the arithmetic of food
// waste diverted in one of them, published emission factors and the report
// that states it all.
//
// It must not know SQL, HTTP, the clock, or how the ledger keeps its entries:
// it is given movements in whole grams and gives back whole grams. Start
// reading at Build in build.go; Calendar says which days belong to a season,
// Balance holds the identity that must come out to the gram.
package season
