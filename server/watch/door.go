package watch

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"strings"
	"sync"
	"time"

	"github.com/prometheus/client_golang/prometheus/promhttp"
)

// Handler answers /metrics and /healthz, of all plants, and nothing else.
func (b *Board) Handler() http.Handler {
	mux := http.NewServeMux()
	mux.Handle("GET /metrics", promhttp.HandlerFor(b.registry, promhttp.HandlerOpts{MaxRequestsInFlight: 4, Timeout: 2 * lookTime}))
	mux.HandleFunc("GET /healthz", b.health)
	return mux
}

// health is 200 when every plant takes entries, else 503; a line a plant says which do not, and why.
func (b *Board) health(w http.ResponseWriter, _ *http.Request) {
	plants := b.all()
	troubles := make([]string, len(plants))
	var all sync.WaitGroup
	for i, p := range plants {
		all.Go(func() { troubles[i] = p.trouble() })
	}
	all.Wait()
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	w.Header().Set("Cache-Control", "no-store")
	w.Header().Set("X-Content-Type-Options", "nosniff")
	var text strings.Builder
	status := http.StatusOK
	for i, p := range plants {
		says := "ok"
		if troubles[i] != "" {
			status, says = http.StatusServiceUnavailable, troubles[i]
		}
		fmt.Fprintf(&text, "%s: %s\n", p.name, says)
	}
	w.WriteHeader(status)
	_, _ = w.Write([]byte(text.String())) // whoever asked has gone: there is nobody to tell
}

// Serve answers on a listener, which it closes, until ctx ends.
func (b *Board) Serve(ctx context.Context, ln net.Listener) error {
	s := &http.Server{Handler: b.Handler(), ReadHeaderTimeout: 5 * time.Second, ReadTimeout: 5 * time.Second, WriteTimeout: 30 * time.Second, IdleTimeout: time.Minute, MaxHeaderBytes: 16 << 10}
	ended := make(chan error, 1)
	go func() { ended <- s.Serve(ln) }()
	var err error
	select {
	case err = <-ended:
	case <-ctx.Done():
		err = errors.Join(s.Close(), <-ended)
	}
	if errors.Is(err, http.ErrServerClosed) {
		return nil
	}
	return err
}
