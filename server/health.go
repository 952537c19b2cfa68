package server

import (
	"context"
	"errors"
	"sync"
	"time"

	"grainward/records"
	"grainward/records/book"
	"grainward/server/pages"
	"grainward/server/watch"
)

// healthJSON is the answer of /healthz when all is well; else it is a problem.
type healthJSON struct {
	Status string `json:"status"` // ok
}

// notReady says that entries are not taken now.
type notReady struct{ key string } // of a text

func (e notReady) Error() string { return "no entries are taken: " + e.key }

// healthz tells whoever watches the machine whether entries are taken. It says nothing else: anybody may ask.
func (s *Server) healthz(r *request) (reply, error) {
	if key := s.trouble(r.ctx); key != "" {
		return reply{}, notReady{key}
	}
	return reply{json: healthJSON{"ok"}}, nil
}

// health keeps what was found for a moment: it is asked by anybody, and asks the disk or the database.
type health struct {
	mu    sync.Mutex
	key   string
	until time.Time
}

const healthLasts = time.Second

// troubleOf is the key of what is said about a kind of error; none of them names a place.
var troubleOf = map[records.ErrorKind]string{
	records.NotFound:    "health-gone",
	records.Denied:      "health-denied",
	records.Busy:        "health-busy",
	records.ReadOnly:    "health-read-only",
	records.Full:        "health-full",
	records.Corrupt:     "health-damaged",
	records.Unavailable: "health-away",
}

// trouble is the key of what stands against taking entries now; empty when nothing is known to. That it begins and ends is logged.
func (s *Server) trouble(ctx context.Context) string {
	h := &s.health
	h.mu.Lock()
	defer h.mu.Unlock()
	if time.Now().Before(h.until) {
		return h.key
	}
	key := ""
	err := s.Book.Ready(ctx)
	switch {
	case err == nil:
	case errors.Is(err, book.ErrClock):
		key = "health-clock"
	default:
		if key = troubleOf[records.KindOf(err)]; key == "" {
			key = "health-other"
		}
	}
	switch {
	case key != h.key && key != "":
		s.Log.Error("no entries are taken", "kind", key, "err", plain(err))
	case key != h.key:
		s.Log.Info("entries are taken again")
	}
	h.key, h.until = key, time.Now().Add(healthLasts)
	return key
}

// whyShut is what is said of a plant that can not be opened, by the kind of error: the error itself may name paths and hosts, and is in the log.
var whyShut = map[records.ErrorKind]string{
	records.Invalid:     "something of it is not as it should be.",
	records.NotFound:    "something of it is not where it should be.",
	records.Denied:      "its key or its database is not as safe as it must be, or does not let this program in.",
	records.Busy:        "another program holds it.",
	records.ReadOnly:    "it can not be written.",
	records.Full:        "the disk is full, or nearly.",
	records.TooNew:      "a newer version of the program has written it.",
	records.Corrupt:     "it is damaged, or not as it was signed.",
	records.Unavailable: "the disk or database does not answer as it should.",
}

// WhyShut says why a plant can not be opened, to whoever watches the machine: the code of the error, and a sentence that names no place.
func WhyShut(err error) (code, says string) {
	kind := records.KindOf(err)
	why := whyShut[kind]
	if why == "" {
		why = "something does not work as it should."
	}
	return codeOf[kind], "It can not be opened: " + why + " It is tried again; the log of the server has more."
}

// Looks are how whoever watches the machine looks at this plant. backup may be nil.
func (s *Server) Looks(backup func() time.Time) watch.Looks {
	return watch.Looks{
		Ready: func(ctx context.Context) string {
			if key := s.trouble(ctx); key != "" {
				return pages.Text("en", key)
			}
			return ""
		},
		Figures: func(ctx context.Context) watch.Figures {
			f := s.figures(ctx)
			if backup != nil {
				f.Backup = backup()
			}
			return f
		},
	}
}

// figures are read off what is there: no judgement is made for them.
func (s *Server) figures(ctx context.Context) watch.Figures {
	f := watch.Figures{Entries: int64(s.Book.View().Head.Size), Streams: s.events.open(), Behind: s.Book.BehindFor()}
	if size, known, err := s.Book.Footprint(ctx); err == nil && known {
		if f.Bytes = &size.Stored; size.Free >= 0 {
			f.Free = &size.Free
		}
	}
	if all, err := s.Auth.Devices(ctx); err == nil {
		n := 0
		for i := range all {
			if all[i].Withdrawn == 0 {
				n++
			}
		}
		f.Devices = &n
	}
	if last := s.judge.seen.Load(); last != nil {
		f.Judged, f.Findings = last.at.Time(), last.counts
	}
	return f
}
