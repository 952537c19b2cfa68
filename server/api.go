package server

import (
	"encoding/hex"
	"errors"
	"io/fs"
	"mime"
	"path"

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

func hexOf(b []byte) string { return hex.EncodeToString(b) }
