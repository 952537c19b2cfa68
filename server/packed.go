package server

import (
	"bytes"
	"compress/gzip"
	"strings"
	"sync"

	"github.com/gofiber/fiber/v2"
)

// packedFrom is from how many bytes on compressing is worth it.
const packedFrom = 400

// packed is a body as it goes over the wire: text is compressed for those who take it. No answer holds a secret beside words of
// whoever asks, which is what compression could give away: secrets travel in cookies.
func packed(c *fiber.Ctx, media string, body []byte) []byte {
	if !textual(media) {
		return body
	}
	c.Set("Vary", "Accept-Encoding")
	if len(body) < packedFrom || !takesGzip(c.Get("Accept-Encoding")) {
		return body
	}
	var b bytes.Buffer
	w := packers.Get().(*gzip.Writer)
	defer packers.Put(w)
	w.Reset(&b)
	if _, err := w.Write(body); err != nil {
		return body
	}
	if err := w.Close(); err != nil || b.Len() >= len(body) {
		return body
	}
	c.Set("Content-Encoding", "gzip")
	return b.Bytes()
}

// packers are used again: the room that one works in is larger than most of what is packed.
var packers = sync.Pool{New: func() any {
	w, err := gzip.NewWriterLevel(nil, gzip.BestCompression)
	if err != nil {
		panic(err) // there is such a level
	}
	return w
}}

func textual(media string) bool {
	media, _, _ = strings.Cut(media, ";")
	return strings.HasPrefix(media, "text/") || strings.HasSuffix(media, "json") || media == "image/svg+xml"
}

// takesGzip reads Accept-Encoding as far as it matters here (RFC 9110 section 12.5.3): gzip is named, and not with weight 0.
func takesGzip(accept string) bool {
	for part := range strings.SplitSeq(accept, ",") {
		name, weight, _ := strings.Cut(part, ";")
		if strings.EqualFold(strings.TrimSpace(name), "gzip") {
			weight = strings.TrimRight(strings.ReplaceAll(weight, " ", ""), "0")
			return weight != "q=" && weight != "q=0." && weight != "q=."
		}
	}
	return false
}
