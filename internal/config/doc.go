// Package config turns the environment into one typed struct, checked at boot
// with every mistake told at once.
//
// It is the only room that reads settings from the environment, and it knows
// nothing of what they are used for. Start reading at settings.go: one entry a
// variable.
package config
