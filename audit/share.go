package audit

import (
	"runtime"
	"sync"
	"sync/atomic"
)

// fewest is how many things are worth another goroutine.
const fewest = 32

// share does n things that do not depend on each other, on as many goroutines as there are cores; few of them it does itself. hand is
// asked once for each goroutine for what does them, so that what is kept from one to the next is not shared.
func share(n int, hand func() func(i int)) {
	workers := min(runtime.GOMAXPROCS(0), n/fewest)
	if workers < 2 {
		do := hand()
		for i := range n {
			do(i)
		}
		return
	}
	var next atomic.Int64
	var wg sync.WaitGroup
	for range workers {
		wg.Go(func() {
			do := hand()
			for i := next.Add(1) - 1; i < int64(n); i = next.Add(1) - 1 {
				do(int(i))
			}
		})
	}
	wg.Wait()
}
