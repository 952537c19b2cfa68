package watch

import (
	"context"
	"sync"
	"time"

	"github.com/prometheus/client_golang/prometheus"
)

// Looks are how a plant is looked at. They are called when somebody asks, from several goroutines.
type Looks struct {
	Ready   func(context.Context) (trouble string) // empty when entries are taken; else a sentence that names nothing but the trouble
	Figures func(context.Context) Figures
}

// Figures are what a plant is like at a moment. What is not known is left out of what is shown.
type Figures struct {
	Entries  int64
	Bytes    *int64         // of the journal on its disk
	Free     *int64         // of that disk
	Findings map[string]int // by severity, of the last judgement
	Judged   time.Time      // when that was
	Devices  *int           // enrolled
	Streams  int            // pages that listen for news
	Behind   time.Duration  // since when a shared database could not be followed
	Backup   time.Time      // the newest that verified
}

const lookTime = 5 * time.Second // for everything about one plant

// figures asks every plant when a registry is gathered.
type figures struct{ board *Board }

func desc(name, says string, labels ...string) *prometheus.Desc {
	return prometheus.NewDesc(prefix+name, says, append([]string{"plant"}, labels...), nil)
}

var (
	readyDesc    = desc("ready", "1 when entries are taken, else 0; /healthz says why not.")
	shutDesc     = desc("shut", "1 for a plant that can not be opened, with the kind of error; it is tried again.", "kind")
	entriesDesc  = desc("journal_entries", "Entries in the journal.")
	bytesDesc    = desc("journal_bytes", "What the journal takes up on its disk, documents and photos included.")
	freeDesc     = desc("disk_free_bytes", "What may still be written to the journal's disk.")
	findingsDesc = desc("findings", "Findings by severity, as the last judgement made for a page left them.", "severity")
	judgedDesc   = desc("findings_judged_timestamp_seconds", "When that judgement was made.")
	devicesDesc  = desc("devices", "Devices that are enrolled.")
	streamsDesc  = desc("event_streams", "Pages that listen for news.")
	behindDesc   = desc("behind_seconds", "For how long a shared database could not be followed; 0 when it is.")
	backupDesc   = desc("backup_timestamp_seconds", "When the newest backup was made that verified; time() less this is its age.")
)

// Describe is of prometheus.Collector.
func (figures) Describe(ch chan<- *prometheus.Desc) {
	for _, d := range []*prometheus.Desc{readyDesc, shutDesc, entriesDesc, bytesDesc, freeDesc, findingsDesc, judgedDesc, devicesDesc, streamsDesc, behindDesc, backupDesc} {
		ch <- d
	}
}

// Collect is of prometheus.Collector.
func (f figures) Collect(ch chan<- prometheus.Metric) {
	var all sync.WaitGroup
	for _, p := range f.board.all() {
		all.Go(func() { p.collect(ch) })
	}
	all.Wait()
}

func (p *Plant) collect(ch chan<- prometheus.Metric) {
	gauge := func(d *prometheus.Desc, value float64, labels ...string) {
		ch <- prometheus.MustNewConstMetric(d, prometheus.GaugeValue, value, append([]string{p.name}, labels...)...)
	}
	ready := 0.0
	if p.trouble() == "" {
		ready = 1
	}
	gauge(readyDesc, ready)
	looks := p.looks.Load()
	if looks == nil {
		if why := p.shut.Load(); why != nil {
			gauge(shutDesc, 1, why.kind)
		}
		return
	}
	ctx, cancel := context.WithTimeout(context.Background(), lookTime)
	defer cancel()
	is := looks.Figures(ctx)
	gauge(entriesDesc, float64(is.Entries))
	gauge(streamsDesc, float64(is.Streams))
	gauge(behindDesc, is.Behind.Seconds())
	if is.Bytes != nil {
		gauge(bytesDesc, float64(*is.Bytes))
	}
	if is.Free != nil {
		gauge(freeDesc, float64(*is.Free))
	}
	if is.Devices != nil {
		gauge(devicesDesc, float64(*is.Devices))
	}
	if !is.Judged.IsZero() {
		gauge(judgedDesc, seconds(is.Judged))
		for severity, n := range is.Findings {
			gauge(findingsDesc, float64(n), severity)
		}
	}
	if !is.Backup.IsZero() {
		gauge(backupDesc, seconds(is.Backup))
	}
}

func seconds(t time.Time) float64 { return float64(t.UnixMilli()) / 1000 }

// trouble is why a plant takes no entries, or empty.
func (p *Plant) trouble() string {
	looks := p.looks.Load()
	if looks == nil {
		if why := p.shut.Load(); why != nil {
			return why.says
		}
		return "It is being opened."
	}
	ctx, cancel := context.WithTimeout(context.Background(), lookTime)
	defer cancel()
	return looks.Ready(ctx)
}
