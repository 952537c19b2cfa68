package binder

import (
	"os"
	"testing"
)

func TestSmoke(t *testing.T) {
	_, in := filled(t)
	b := made(t, in)
	os.WriteFile("/tmp/binder-smoke.xlsx", b, 0o600)
	t.Log(len(b), in.Stamp.Size)
}
