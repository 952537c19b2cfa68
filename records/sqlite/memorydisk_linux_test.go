package sqlite

import (
	"fmt"
	"testing"

	"golang.org/x/sys/unix"
)

// memoryDisk is a disk of so many bytes, in memory. Only root can have one.
func memoryDisk(t *testing.T, size int64) string {
	t.Helper()
	dir := t.TempDir()
	if err := unix.Mount("tmpfs", dir, "tmpfs", 0, fmt.Sprintf("size=%d", size)); err != nil {
		t.Skipf("no small disk can be had here: %v", err)
	}
	t.Cleanup(func() {
		if err := unix.Unmount(dir, unix.MNT_DETACH); err != nil {
			t.Error(err)
		}
	})
	return dir
}
