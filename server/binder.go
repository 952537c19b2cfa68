package server

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"sync/atomic"
	"syscall"

	"grainward/records"
	"grainward/records/calendar"
	"grainward/server/pages"
)

const (
	binderMedia = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
	binderKept  = 8 // files waiting to be downloaded; the oldest goes first
)

// binderJob is a binder being made, or made. Its fields but the two counts are guarded by binders.mu.
type binderJob struct {
	id        string
	from, to  calendar.Date
	path      string
	size      int64
	err       error
	finished  bool
	done, all atomic.Int64
}

// binders makes one binder at a time, and keeps the last few.
type binders struct {
	maker  BinderMaker
	parent string
	ctx    context.Context
	stop   context.CancelFunc
	wg     sync.WaitGroup

	mu   sync.Mutex
	dir  string
	jobs []*binderJob // newest first
}

func newBinders(m BinderMaker, parent string) *binders {
	b := &binders{maker: m, parent: parent}
	b.ctx, b.stop = context.WithCancel(context.Background())
	return b
}

// close ends what is being made and removes the files.
func (b *binders) close() error {
	b.stop()
	b.wg.Wait()
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.dir == "" {
		return nil
	}
	return os.RemoveAll(b.dir)
}

// start begins a binder. Only one is made at a time.
func (b *binders) start(from, to calendar.Date, by string) (*binderJob, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.maker == nil {
		return nil, &records.Error{Kind: records.Unavailable, What: "no binders are made here", Do: "Make it from the command line."}
	}
	if len(b.jobs) > 0 && !b.jobs[0].finished {
		return nil, &records.Error{Kind: records.Busy, What: "another binder is being made"}
	}
	if b.dir == "" {
		dir, err := os.MkdirTemp(b.parent, "grainward-binders-")
		if err != nil {
			return nil, fmt.Errorf("making a folder for binders: %w", err)
		}
		b.dir = dir
	}
	j := &binderJob{id: newRequestID(), from: from, to: to}
	j.path = filepath.Join(b.dir, j.id+".xlsx")
	b.jobs = append([]*binderJob{j}, b.jobs...)
	for len(b.jobs) > binderKept {
		last := b.jobs[len(b.jobs)-1]
		b.jobs = b.jobs[:len(b.jobs)-1]
		if err := os.Remove(last.path); err != nil && !errors.Is(err, os.ErrNotExist) {
			return nil, fmt.Errorf("removing an old binder: %w", err)
		}
	}
	b.wg.Go(func() { b.run(j, by) })
	return j, nil
}

func (b *binders) run(j *binderJob, by string) {
	size, err := b.write(j, by)
	b.mu.Lock()
	defer b.mu.Unlock()
	j.size, j.err, j.finished = size, err, true
}

func (b *binders) write(j *binderJob, by string) (size int64, err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("a fault of the program: %v", p)
		}
	}()
	f, err := os.OpenFile(j.path, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return 0, fmt.Errorf("opening the binder's file: %w", err)
	}
	err = b.maker(b.ctx, f, j.from, j.to, by, func(done, all int) {
		j.all.Store(int64(all))
		j.done.Store(int64(done))
	})
	info, errStat := f.Stat()
	if err = errors.Join(err, errStat, f.Close()); err != nil {
		return 0, errors.Join(err, os.Remove(j.path))
	}
	return info.Size(), nil
}

// look is a job as it stands.
type look struct {
	id, state, path, name string
	from, to              calendar.Date
	percent               int
	size                  int64
	err                   error
}

func (b *binders) look(j *binderJob) look {
	l := look{id: j.id, state: "running", path: j.path, from: j.from, to: j.to, size: j.size, err: j.err, name: fmt.Sprintf("binder-%s-%s.xlsx", j.from, j.to)}
	if all := j.all.Load(); all > 0 {
		l.percent = int(min(100, 100*j.done.Load()/all))
	}
	switch {
	case j.finished && j.err == nil:
		l.state = "done"
	case j.finished:
		l.state = "failed"
	}
	return l
}

func (b *binders) find(id string) (look, bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	for _, j := range b.jobs {
		if j.id == id {
			return b.look(j), true
		}
	}
	return look{}, false
}

func (b *binders) lately() (ls []look) {
	b.mu.Lock()
	defer b.mu.Unlock()
	for _, j := range b.jobs {
		ls = append(ls, b.look(j))
	}
	return ls
}

func (s *Server) binderForm(r *request) (reply, error) {
	today := r.plan.Day(r.now)
	_, _, dom := today.Civil()
	first := today.AddDays(1 - dom).AddMonths(-1) // the last whole month and this one so far
	return page(s.binderPage(r, first.String(), today.String(), nil))
}

func (s *Server) binderPage(r *request, from, to string, ms []pages.Message) *pages.Binder {
	p := &pages.Binder{Frame: s.frame(r, r.say("binder"), "binder"), From: from, To: to, Messages: ms}
	for _, l := range s.binders.lately() {
		p.Lately = append(p.Lately, pages.BinderRow{Href: "/binder/" + l.id, Period: r.say("period", l.from.String(), l.to.String()), State: l.state})
	}
	return p
}

func (s *Server) makeBinder(r *request) (reply, error) {
	var ms []pages.Message
	fault := func(field, text string) { ms = append(ms, pages.Message{Field: field, Text: text}) }
	from, errFrom := calendar.ParseDate(r.form.Get("from"))
	to, errTo := calendar.ParseDate(r.form.Get("to"))
	switch {
	case errFrom != nil:
		fault("from", r.say("from-day")+": "+r.say("day-unreadable"))
	case errTo != nil:
		fault("to", r.say("to-day")+": "+r.say("day-unreadable"))
	case to < from:
		fault("to", r.say("days-reversed"))
	}
	if len(ms) == 0 {
		j, err := s.binders.start(from, to, r.who.Name)
		if err == nil {
			return redirect("/binder/" + j.id)
		}
		if records.KindOf(err) != records.Busy {
			return reply{}, err
		}
		fault("", r.say("binder-busy"))
	}
	return again(s.binderPage(r, r.form.Get("from"), r.form.Get("to"), ms))
}

func (s *Server) binderJob(r *request) (reply, error) {
	l, ok := s.binders.find(r.params["job"])
	if !ok || !r.mayRead(l) {
		return reply{}, notFound()
	}
	p := &pages.BinderJob{Frame: s.frame(r, r.say("binder"), "binder"), Period: r.say("period", l.from.String(), l.to.String()), State: l.state, Percent: l.percent,
		Poll: "/api/binder/" + l.id, File: "/binder/" + l.id + "/file", FileSize: fileSize(l.size)}
	if l.err != nil {
		s.Log.Error("binder", "request", r.id, "err", plain(l.err))
		p.Problem = r.say("trouble-say")
		if errors.Is(l.err, syscall.ENOSPC) || errors.Is(l.err, syscall.EDQUOT) {
			p.Problem = r.say("disk-full")
		}
		var own *records.Error
		if errors.As(l.err, &own) && own.Kind != records.Internal {
			p.Problem = own.What + ". " + own.Do
		}
	}
	return page(p)
}

func (s *Server) binderFile(r *request) (reply, error) {
	l, ok := s.binders.find(r.params["job"])
	if !ok || l.state != "done" || !r.mayRead(l) {
		return reply{}, notFound()
	}
	return reply{file: l.path, media: binderMedia, name: l.name}, nil
}
