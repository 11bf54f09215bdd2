package pgrun_test

const kernelSignalsParentDeath = true
