package server

import (
	"bytes"
	"crypto/sha256"
	"image"
	_ "image/jpeg" // the two kinds of picture that are taken
	_ "image/png"
	"net/http"
	"strings"

	"grainward/records"
	"grainward/server/pages"
)

// A picture's bounds: what a phone's camera makes, and not a small file that unpacks to gigabytes wherever it is looked at.
const (
	sideMost   = 20_000      // pixels
	pixelsMost = 120_000_000 // in all
)

// photoJSON is the answer of PUT /api/photos/:key.
type photoJSON struct {
	Key   string `json:"key"`
	Bytes int    `json:"bytes"`
}

// apiPhoto puts a picture on file under the SHA-256 of its bytes, which whoever sends it works out too: what arrives damaged is
// not taken.
func (s *Server) apiPhoto(r *request) (reply, error) {
	key := r.params["key"]
	if own := hexOf(sum(r.body)); key != own {
		return reply{}, &records.Error{Kind: records.Invalid, What: r.say("photo-hash"), Do: r.say("photo-hash-do"),
			Fields: []records.FieldError{{Field: "key", Value: key, Want: own}}}
	}
	if wrong := pictureFault(r.lang, r.body); wrong != "" {
		return reply{}, &records.Error{Kind: records.Invalid, What: strings.TrimSuffix(wrong, ".")}
	}
	return s.keepUnder(r, key)
}

// apiFile is apiPhoto for the file of a document: what the form of documents takes, and nothing that a browser would run.
func (s *Server) apiFile(r *request) (reply, error) {
	key := r.params["key"]
	if own := hexOf(sum(r.body)); key != own {
		return reply{}, &records.Error{Kind: records.Invalid, What: r.say("photo-hash"), Do: r.say("photo-hash-do"),
			Fields: []records.FieldError{{Field: "key", Value: key, Want: own}}}
	}
	if media, _ := documentMedia(r.body); media == "" {
		return reply{}, &records.Error{Kind: records.Invalid, What: strings.TrimSuffix(r.say("file-wrong"), ".")}
	}
	return s.keepUnder(r, key)
}

// keepUnder keeps the body under its hash; what is there already is told so.
func (s *Server) keepUnder(r *request, key string) (reply, error) {
	out := reply{status: http.StatusCreated, json: photoJSON{key, len(r.body)}}
	_, err := s.Book.Blob(r.ctx, key)
	switch {
	case err == nil:
		out.status = http.StatusOK
		return out, nil
	case records.KindOf(err) != records.NotFound:
		return reply{}, err
	}
	_, err = s.Book.PutBlob(r.ctx, r.body)
	return out, err
}

func sum(b []byte) []byte { h := sha256.Sum256(b); return h[:] }

// pictureFault says what is wrong with the bytes of a picture; "" when they are taken. It goes by the bytes, never by the name or
// type that was sent along, and reads no more than the bounds.
func pictureFault(lang string, data []byte) string {
	if len(data) > records.MaxBlob {
		return pages.Text(lang, "photo-large")
	}
	if !isPicture(data) {
		return pages.Text(lang, "photo-wrong")
	}
	c, _, err := image.DecodeConfig(bytes.NewReader(data))
	switch {
	case err != nil:
		return pages.Text(lang, "photo-broken")
	case c.Width < 1 || c.Height < 1 || c.Width > sideMost || c.Height > sideMost || c.Width*c.Height > pixelsMost:
		return pages.Text(lang, "photo-bounds", c.Width, c.Height)
	}
	return ""
}
