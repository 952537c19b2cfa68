package server

import (
	"encoding/hex"
	"errors"
	"io/fs"
	"mime"
	"path"

	"grainward/audit"
	"grainward/records"
	"grainward/server/pages"
)

func (s *Server) nowhere(*request) (reply, error) { return reply{}, notFound() }

// static sends one of the files that are the same for everybody.
func (s *Server) static(r *request) (reply, error) {
	name := r.params["file"]
	if !fs.ValidPath(name) {
		return reply{}, notFound()
	}
	data, err := fs.ReadFile(pages.Static(), name)
	if errors.Is(err, fs.ErrNotExist) || errors.Is(err, fs.ErrInvalid) {
		return reply{}, notFound()
	}
	if err != nil {
		return reply{}, err
	}
	media := mime.TypeByExtension(path.Ext(name))
	if path.Ext(name) == ".mjs" {
		media = "text/javascript; charset=utf-8" // not every system's table has it
	}
	return reply{data: data, media: media, keep: r.query.Get("v") != ""}, nil
}

// headJSON is the answer of /api/head.
type headJSON struct {
	Size       records.Position `json:"size"`       // entries in the journal
	Root       string           `json:"root"`       // of its tree, RFC 6962, in hex
	Checkpoint string           `json:"checkpoint"` // the signed note
}

func (s *Server) apiHead(r *request) (reply, error) {
	h := r.view.Head
	return reply{json: headJSON{h.Size, hexOf(h.Root[:]), string(h.Checkpoint)}}, nil
}

// findingsJSON is the answer of /api/findings.
type findingsJSON struct {
	At       records.Instant `json:"at"`
	Findings []findingJSON   `json:"findings"`
}

type findingJSON struct {
	audit.Finding
	Sentence string `json:"sentence"` // in the language of whoever asks
}

func (s *Server) apiFindings(r *request) (reply, error) {
	rep := s.report()
	out := findingsJSON{At: rep.At, Findings: []findingJSON{}}
	for _, f := range rep.Findings {
		out.Findings = append(out.Findings, findingJSON{f, f.Sentence(r.lang)})
	}
	return reply{json: out}, nil
}

// jobJSON is the answer of /api/binder/:job.
type jobJSON struct {
	State   string `json:"state"` // running, done, failed
	Percent int    `json:"percent"`
}

func (s *Server) apiBinder(r *request) (reply, error) {
	l, ok := s.binders.find(r.params["job"])
	if !ok {
		return reply{}, notFound()
	}
	return reply{json: jobJSON{l.state, l.percent}}, nil
}

func hexOf(b []byte) string { return hex.EncodeToString(b) }
