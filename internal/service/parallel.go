package service

import (
	"runtime"
	"sync"
	"sync/atomic"
)

// each works f out for 0 to n-1 on every processor; the answers come in order.
// f must not touch what another call of it changes.
func each[R any](n int, f func(int) R) []R {
	out := make([]R, n)
	var next atomic.Int64
	var wg sync.WaitGroup
	for range min(n, runtime.GOMAXPROCS(0)) {
		wg.Go(func() {
			for i := int(next.Add(1)) - 1; i < n; i = int(next.Add(1)) - 1 {
				out[i] = f(i)
			}
		})
	}
	wg.Wait()
	return out
}
