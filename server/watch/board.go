package watch

import (
	"slices"
	"sync"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
)

const prefix = "grainward_"

// Board is what a process shows of itself. It may be used from many goroutines.
type Board struct {
	registry *prometheus.Registry

	requests, refusals, signIns, failures *prometheus.CounterVec
	answers, batches, commits             *prometheus.HistogramVec

	mu     sync.Mutex
	plants []*Plant
}

// NewBoard makes one for a process that runs a version of the program.
func NewBoard(version string) *Board {
	counter := func(name, says string, labels ...string) *prometheus.CounterVec {
		return prometheus.NewCounterVec(prometheus.CounterOpts{Name: prefix + name, Help: says}, append([]string{"plant"}, labels...))
	}
	histogram := func(name, says string, buckets []float64, labels ...string) *prometheus.HistogramVec {
		return prometheus.NewHistogramVec(prometheus.HistogramOpts{Name: prefix + name, Help: says, Buckets: buckets}, append([]string{"plant"}, labels...))
	}
	b := &Board{
		registry: prometheus.NewRegistry(),
		requests: counter("requests_total", "Requests answered, by route of the table and class of status.", "method", "route", "class"),
		refusals: counter("refusals_total", "Requests answered with an error, by its code (the \"code\" of problem details).", "code"),
		signIns:  counter("secrets_total", "PINs and passwords that were given, by what came of it: right, wrong, wait, locked, none-set.", "outcome"),
		failures: counter("commit_failures_total", "Batches that the store did not take, by kind of error.", "kind"),
		answers:  histogram("request_seconds", "Time from a request to its answer. A stream of events counts until it begins.", []float64{.001, .0025, .005, .01, .025, .05, .1, .25, .5, 1, 2.5, 10}, "route"),
		batches:  histogram("batch_entries", "Entries in one durable commit.", []float64{1, 2, 4, 8, 16, 32, 64, 128, 256, 1024}),
		commits:  histogram("commit_seconds", "Time of one durable commit in the store.", []float64{.0005, .001, .0025, .005, .01, .025, .05, .1, .25, .5, 1, 5}),
	}
	build := prometheus.NewGaugeVec(prometheus.GaugeOpts{Name: prefix + "build_info", Help: "1, labelled with the version of the program."}, []string{"version"})
	build.WithLabelValues(version).Set(1)
	b.registry.MustRegister(b.requests, b.refusals, b.signIns, b.failures, b.answers, b.batches, b.commits, build, figures{b},
		collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	return b
}

// Plant is the plant of a name, added when it is new. The name is a label of everything about it, so it is a name for its operator and
// no secret.
func (b *Board) Plant(name string) *Plant {
	b.mu.Lock()
	defer b.mu.Unlock()
	if i := slices.IndexFunc(b.plants, func(p *Plant) bool { return p.name == name }); i >= 0 {
		return b.plants[i]
	}
	p := &Plant{board: b, name: name}
	b.plants = append(b.plants, p)
	return p
}

func (b *Board) all() []*Plant {
	b.mu.Lock()
	defer b.mu.Unlock()
	return slices.Clone(b.plants)
}
