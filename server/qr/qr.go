// Package qr turns a text into the modules of a QR code (ISO/IEC 18004) and those into a shape for a page.
//
// The code is worked out by a library; only the drawing is ours: one path of horizontal bars, with the quiet zone of four modules
// that the standard asks for. It knows texts and shapes, and must not know what an address means or what a page looks like.
package qr

import (
	"fmt"
	"strconv"
	"strings"

	goqr "github.com/piglig/go-qr"
)

// quiet is how many light modules lie around a code (ISO/IEC 18004, 5.3.8).
const quiet = 4

// Code is a drawn code.
type Code struct {
	Text string // what it says
	Size int    // modules a side, the quiet zone with them
	Path string // the dark modules, as the data of an SVG path of that size
}

// Draw makes the code of a text, with error correction of level M (about 15 % of it may be dirt) or better where it costs no
// more room. The error says that the text is too long.
func Draw(text string) (Code, error) {
	made, err := goqr.EncodeText(text, goqr.Medium)
	if err != nil {
		return Code{}, fmt.Errorf("drawing a QR code of %d characters: %w", len(text), err)
	}
	var b strings.Builder
	n := made.Size()
	for y := range n {
		for x := 0; x < n; {
			from := x
			for x < n && made.Module(x, y) {
				x++
			}
			if x > from {
				b.WriteString("M" + strconv.Itoa(from+quiet) + " " + strconv.Itoa(y+quiet) + "h" + strconv.Itoa(x-from) + "v1h-" + strconv.Itoa(x-from) + "z")
			} else {
				x++
			}
		}
	}
	return Code{Text: text, Size: n + 2*quiet, Path: b.String()}, nil
}
