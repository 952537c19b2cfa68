package server

import (
	"errors"
	"math"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"grainward/audit"
	"grainward/records"
	"grainward/records/ledger"
	"grainward/records/lots"
	"grainward/records/plan"
	"grainward/records/state"
	"grainward/server/pages"
)

// An auditor's link opens the routes marked so in the table, for reading, and shows what belongs to its period: the entries
// that happened in it, the findings of it, the lots that were touched in it with the whole of their lineage, and its binder.

const recordsMost = 100 // on one page

// errLinkClosed says that a link has ended or was withdrawn; errNotByLink that it does not reach so far.
var (
	errLinkClosed = errors.New("the link is not good any more")
	errNotByLink  = errors.New("a link for reading does not open this")
)

// byLink finds out whether a request comes with an auditor's link.
func (s *Server) byLink(r *request) error {
	if r.pass == "" || r.plan == nil || r.who != nil {
		return nil
	}
	l, found, err := s.Auth.OpenLink(r.ctx, r.pass)
	if err != nil || !found {
		return err
	}
	if !l.Good(r.now) {
		r.closed = true
		return nil
	}
	r.link = &l
	return nil
}

// within says whether something of an instant is shown to whoever asks: everything to the people of the plant, its period to a link.
func (r *request) within(at records.Instant) bool {
	if r.link == nil {
		return true
	}
	day := r.planAt(at).Day(at)
	return r.link.From <= day && day <= r.link.To
}

// shownTime is the time that within says yes to, in order: a day of a link's period is one of the plan that was in force.
func (r *request) shownTime() (all []state.Stretch) {
	if r.link == nil {
		return []state.Stretch{{From: math.MinInt64, To: math.MaxInt64}}
	}
	p, since := r.plan, records.Instant(math.MinInt64) // before any plan the days are those of the present one
	until := func(end records.Instant) {
		s := state.Stretch{From: max(since, p.At(r.link.From, plan.DayTime{})), To: min(end, p.At(r.link.To.AddDays(1), plan.DayTime{})-1)}
		if s.From <= s.To {
			all = append(all, s)
		}
	}
	for _, in := range r.view.State.Plans() {
		until(in.From - 1)
		p, since = in.Plan, in.From
	}
	until(math.MaxInt64)
	return all
}

// shows says whether an entry is: when it happened in the period, as first written or as it counts.
func (r *request) shows(first, now *state.Record) bool {
	return r.within(first.Happened) || now != nil && r.within(now.Happened)
}

// shown are the findings of the period.
func (r *request) shown(fs []*audit.Finding) []*audit.Finding {
	if r.link == nil {
		return fs
	}
	var out []*audit.Finding
	for _, f := range fs {
		if r.within(f.When) {
			out = append(out, f)
		}
	}
	return out
}

// touched says whether anything happened to a lot that is shown.
func (r *request) touched(l *lots.Lot) bool {
	return r.link == nil || slices.ContainsFunc(l.Events, func(e *state.Record) bool { return r.within(e.Happened) })
}

// useLink takes an auditor's link: its secret goes into a cookie and out of the address.
func (s *Server) useLink(r *request) (reply, error) {
	l, found, err := s.Auth.OpenLink(r.ctx, r.params["link"])
	switch {
	case err != nil:
		return reply{}, err
	case !found:
		return reply{}, notFound()
	case !l.Good(r.now):
		return reply{}, errLinkClosed
	}
	if err := s.Auth.LogAccess(r.ctx, l.ID, "/auditor/…"); err != nil { // never with its secret
		return reply{}, err
	}
	pass := r.params["link"]
	return reply{redirect: "/auditor", pass: &pass}, nil
}

// leaveLink forgets the link in this browser.
func (s *Server) leaveLink(*request) (reply, error) {
	gone := ""
	return reply{redirect: "/", pass: &gone}, nil
}

// auditor is where a link leads: what there is to read, and of when.
func (s *Server) auditor(r *request) (reply, error) {
	if r.link == nil {
		return redirect("/findings")
	}
	p := &pages.Auditor{Frame: s.frame(r, r.say("auditor"), "auditor"), For: r.link.For, Period: r.say("period", r.link.From.String(), r.link.To.String()),
		Until: r.moment(r.link.Ends), By: personName(r.plan, r.link.By)}
	n := map[string]int{}
	for _, f := range r.shown(s.report().Findings) {
		n[f.Severity.String()]++
	}
	for _, sev := range []string{"critical", "major", "minor", "note"} {
		p.Counts = append(p.Counts, pages.Count{Severity: sev, N: n[sev], Href: "/findings?" + url.Values{"severity": {sev}, "show": {"all"}}.Encode()})
	}
	return page(p)
}

// records lists entries by when they happened, the newest first.
func (s *Server) records(r *request) (reply, error) {
	kind := records.Kind(r.query.Get("kind"))
	p := &pages.Records{Frame: s.frame(r, r.say("records"), "records")}
	if r.link != nil {
		p.Period = r.say("period", r.link.From.String(), r.link.To.String())
	}
	of := r.shownTime()
	var lines []state.Timeline
	all := 0
	for _, row := range records.Kinds() {
		line, n := r.view.State.Kind(row.Kind), 0
		for _, s := range of {
			n += line.Count(s)
		}
		if n == 0 {
			continue
		}
		p.Kinds = append(p.Kinds, pages.Option{Value: string(row.Kind), Title: r.say("record-kind-count", r.say(kindKey(row.Kind)), n), Chosen: row.Kind == kind})
		if kind == "" || row.Kind == kind {
			lines, all = append(lines, line), all+n
		}
	}
	to := url.URL{Path: "/records"}
	if kind != "" {
		to.RawQuery = url.Values{"kind": {string(kind)}}.Encode()
	}
	p.Pager = r.pager(to.String(), all, recordsMost)
	for _, rec := range state.Newest(lines, of, p.Pager.From-1, recordsMost) {
		p.Rows = append(p.Rows, r.recordRow(rec))
	}
	return page(p)
}

func (r *request) recordRow(rec *state.Record) pages.RecordRow {
	p := r.planAt(rec.Happened)
	row := pages.RecordRow{Href: entryHref(rec.Position), Position: positionText(rec.Position), What: r.say(kindKey(rec.Kind)), Who: personName(p, rec.Performer()), When: r.moment(rec.Happened),
		Corrected: rec.Corrected != nil}
	if f, is := rec.Fact.(*records.Signoff); is {
		row.What = taskTitle(p, f.Task, r.lang) + ", " + stationTitle(p, f.Station, r.lang)
		row.State = markOfRecord(p.Task(f.Task), rec)
	}
	return row
}

// proof shows an entry's own bytes and how to check them without this program.
func (s *Server) proof(r *request) (reply, error) {
	pos, err := r.position()
	if err != nil {
		return reply{}, err
	}
	if st := r.view.State; !r.shows(st.First(pos), st.Now(pos)) {
		return reply{}, notFound()
	}
	p := &pages.Proof{Frame: s.frame(r, r.say("proof-of", positionText(pos)), "records"), Position: positionText(pos), Entry: entryHref(pos), File: "/api/proof/" + positionText(pos), Key: s.Key}
	err = s.Book.Rows(r.ctx, pos, func(_ records.Position, row records.Row) error {
		p.Bytes, p.Leaf = string(row.Bytes), hexOf(row.Leaf[:])
		return errEnough
	})
	if err != nil && !errors.Is(err, errEnough) {
		return reply{}, err
	}
	proof, err := s.Book.Prove(pos, r.view.Head)
	if err != nil {
		return reply{}, err
	}
	p.Proof = string(ledger.FormatProof(proof))
	return page(p)
}

func (s *Server) checkForm(r *request) (reply, error) {
	return page(&pages.Check{Frame: s.frame(r, r.say("check-proof"), "check"), Key: s.Key})
}

// check holds a proof somebody pasted against the entry they pasted and a public key. It reads nothing of the journal.
func (s *Server) check(r *request) (reply, error) {
	p := &pages.Check{Frame: s.frame(r, r.say("check-proof"), "check"), Key: strings.TrimSpace(r.form.Get("key")), Bytes: r.form.Get("entry"), Proof: r.form.Get("proof")}
	fault := func(field, key string) {
		p.Messages = append(p.Messages, pages.Message{Field: field, Text: r.say(key)})
	}
	switch {
	case strings.TrimSpace(p.Bytes) == "":
		fault("entry", "check-no-entry")
	case strings.TrimSpace(p.Proof) == "":
		fault("proof", "check-no-proof")
	case p.Key == "":
		fault("key", "check-no-key")
	}
	if len(p.Messages) > 0 {
		return again(p)
	}
	got, readable := checked(p.Bytes, p.Proof, p.Key)
	switch {
	case !readable:
		fault("proof", "check-unreadable")
		return again(p)
	case !got.Holds:
		p.Fails = true
	default:
		p.Holds = r.say("check-holds", strconv.FormatInt(got.Index, 10), strconv.FormatInt(got.Size, 10), got.Origin)
	}
	return page(p)
}

// checkAsk is a proof to be checked, for programs.
type checkAsk struct {
	Entry string `json:"entry"` // byte for byte
	Proof string `json:"proof"` // C2SP tlog-proof
	Key   string `json:"key"`   // the plant's public key
}

// checkJSON is what came of it.
type checkJSON struct {
	Holds  bool   `json:"holds"`
	Index  int64  `json:"index"`            // of the entry, counted from 0, as the proof has it
	Size   int64  `json:"size,omitempty"`   // entries under the signed head, when it holds
	Origin string `json:"origin,omitempty"` // the journal's name in it
}

// checked holds a proof against an entry and a key. readable is false when the proof is none at all.
func checked(entry, text, key string) (got checkJSON, readable bool) {
	plain := func(s string) string { return strings.TrimRight(strings.ReplaceAll(s, "\r\n", "\n"), "\n") } // as a form sends it
	proof, err := ledger.ParseProof([]byte(plain(text) + "\n"))
	if err != nil {
		return got, false
	}
	got.Index = proof.Index
	// Canonical bytes have no line end; what is pasted may.
	head, err := ledger.CheckProof(proof, ledger.LeafHash([]byte(plain(entry))), strings.TrimSpace(key))
	if err == nil {
		got.Holds, got.Size, got.Origin = true, head.Size, head.Origin
	}
	return got, true
}

func (s *Server) apiCheck(r *request) (reply, error) {
	var ask checkAsk
	if err := r.readJSON(&ask); err != nil {
		return reply{}, err
	}
	got, readable := checked(ask.Entry, ask.Proof, ask.Key)
	if !readable {
		return reply{}, &records.Error{Kind: records.Invalid, What: "the proof can not be read", Fields: []records.FieldError{{Field: "proof", Want: r.say("check-unreadable")}}}
	}
	return reply{json: got}, nil
}

// auditorBinder makes the binder of the link's period.
func (s *Server) auditorBinder(r *request) (reply, error) {
	if r.link == nil {
		return redirect("/binder")
	}
	j, err := s.binders.start(r.link.From, r.link.To, r.link.For)
	if err != nil {
		if records.KindOf(err) == records.Busy {
			return reply{}, busy{"binder-busy"}
		}
		return reply{}, err
	}
	return redirect("/binder/" + j.id)
}

// mayRead says whether a binder is shown to whoever asks: a link reads those of its own period.
func (r *request) mayRead(l look) bool {
	return r.link == nil || r.link.From == l.from && r.link.To == l.to
}
