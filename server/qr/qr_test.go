package qr

import (
	"fmt"
	"image"
	"image/color"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// paint draws a path of bars as we write them, a module to 6 pixels.
func paint(t *testing.T, c Code) image.Image {
	t.Helper()
	const side = 6
	img := image.NewGray(image.Rect(0, 0, c.Size*side, c.Size*side))
	for i := range img.Pix {
		img.Pix[i] = 255
	}
	for bar := range strings.SplitSeq(strings.TrimSuffix(c.Path, "z"), "z") {
		var x, y, w, back int
		if _, err := fmt.Sscanf(bar, "M%d %dh%dv1h-%d", &x, &y, &w, &back); err != nil || w != back {
			t.Fatalf("%q: %v", bar, err)
		}
		if x < quiet || y < quiet || x+w > c.Size-quiet || y >= c.Size-quiet {
			t.Fatalf("%q is in the quiet zone", bar)
		}
		for py := y * side; py < (y+1)*side; py++ {
			for px := x * side; px < (x+w)*side; px++ {
				img.SetGray(px, py, color.Gray{})
			}
		}
	}
	return img
}

// A reader we did not write (zbar) reads back what was put in.
func TestZbarReadsThem(t *testing.T) {
	if _, err := exec.LookPath("zbarimg"); err != nil {
		if os.Getenv("GRAINWARD_CI") != "" {
			t.Fatal("zbarimg is not here")
		}
		t.Skip("zbarimg is not here")
	}
	for i, text := range []string{"https://192.168.7.20:8443/", "https://malthouse.local:8443/crew?station=floor-1", "https://[fd00::20]:8443/paper?sheet=floor-1.2026-03-09.1",
		"A", strings.Repeat("https://malthouse.local/long/", 20)} {
		c, err := Draw(text)
		if err != nil {
			t.Fatal(err)
		}
		path := filepath.Join(t.TempDir(), fmt.Sprint(i)+".png")
		f, err := os.Create(path)
		if err != nil {
			t.Fatal(err)
		}
		if err := png.Encode(f, paint(t, c)); err != nil {
			t.Fatal(err)
		}
		f.Close()
		out, err := exec.Command("zbarimg", "--quiet", "--raw", path).Output()
		if err != nil || strings.TrimSuffix(string(out), "\n") != text {
			t.Errorf("%q is read as %q: %v", text, out, err)
		}
	}
}

func TestTooLong(t *testing.T) {
	if _, err := Draw(strings.Repeat("x", 5000)); err == nil {
		t.Error("5,000 characters fit into a code")
	}
}
