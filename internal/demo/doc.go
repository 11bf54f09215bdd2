// Package demo makes an invented garden with two years behind it, for people
// who want to see Midden at work before they keep bins with it.
//
// Nothing of it is drawn: each bin is a vermi.SimBin that moves on day by day in
// an invented weather, keepers look at it with the noise of a look, feed it by
// what they believe, and what they do is booked through the service at the
// moment it happens, by a clock that stands there. So the books hold what a
// garden's books would hold, and the bins know better.
//
// It must not know the store, HTTP, the real clock or the terminal. All people,
// places and names are invented. Start reading at load.go, which walks through
// the days; garden.go says who and what there is, weather.go and supply.go what
// comes from outside, bin.go what is true of a bin, visit.go what a keeper does.
package demo
