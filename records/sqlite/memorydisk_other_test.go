//go:build !linux

package sqlite

import "testing"

func memoryDisk(t *testing.T, _ int64) string {
	t.Skip("no small disk can be had on this system")
	return ""
}
