// Package archtest holds no program: its tests read the source of every package and fail when one steps out of its room.
// They hold the arrows between packages, the libraries a pure package may use, and the few calls that belong to certain
// rooms only, such as reading the clock.
//
// Start reading at rules_test.go: it is the law, as tables. Whoever adds an arrow there changes the design and says why in
// the commit.
package archtest
