//go:build !linux

package pgrun_test

const kernelSignalsParentDeath = false
