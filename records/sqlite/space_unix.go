//go:build unix && !solaris && !illumos && !netbsd

package sqlite

import "golang.org/x/sys/unix"

// FreeSpace is how many bytes a user who is not root may still write to the disk of a folder; -1 when it can not be told.
func FreeSpace(dir string) int64 {
	var st unix.Statfs_t
	if unix.Statfs(dir, &st) != nil || st.Blocks == 0 { // some file systems count nothing
		return -1
	}
	return int64(st.Bavail) * int64(st.Bsize)
}

func mayWrite(dir string) error { return unix.Access(dir, unix.W_OK) }
