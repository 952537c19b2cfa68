//go:build unix

package yardstick

import (
	"errors"
	"fmt"
	"os"
	"syscall"
	"time"

	"grainward/records"
)

// processorTime is what this process has used so far.
func processorTime() time.Duration {
	var u syscall.Rusage
	if syscall.Getrusage(syscall.RUSAGE_SELF, &u) != nil {
		return 0
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// usedBy is what another process has used so far, and what of its memory is in the machine's, in bytes; ok is false where the system does
// not tell.
func usedBy(pid int) (cpu time.Duration, resident uint64, ok bool) {
	b, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", pid))
	if err != nil {
		return 0, 0, false
	}
	// The fields of proc(5) after the name, which is in brackets and may hold anything.
	at := len(b) - 1
	for at >= 0 && b[at] != ')' {
		at--
	}
	var state byte
	var skip int64
	var user, system, pages uint64
	n, err := fmt.Sscanf(string(b[at+1:]), " %c %d %d %d %d %d %d %d %d %d %d %d %d %d %d %d %d %d %d %d %d %d", &state, &skip, &skip, &skip, &skip, &skip, &skip, &skip, &skip, &skip, &skip,
		&user, &system, &skip, &skip, &skip, &skip, &skip, &skip, &skip, &skip, &pages)
	if err != nil || n != 22 {
		return 0, 0, false
	}
	const ticks = 100 // a second, on every Linux (USER_HZ)
	return time.Duration(user+system) * time.Second / ticks, pages * uint64(os.Getpagesize()), true
}

// onDisk says a full or closed disk in our words.
func onDisk(err error) error {
	switch {
	case errors.Is(err, syscall.ENOSPC), errors.Is(err, syscall.EDQUOT):
		return &records.Error{Kind: records.Full, What: "there is no room left for what is measured on", Do: "Name a disk with more room with --dir; 1,000,000 entries take about 1.5 GB while they are measured.", Err: err}
	case errors.Is(err, os.ErrPermission), errors.Is(err, syscall.EROFS):
		return &records.Error{Kind: records.ReadOnly, What: "nothing can be written where it is measured", Do: "Name another directory with --dir.", Err: err}
	case errors.Is(err, os.ErrNotExist):
		return &records.Error{Kind: records.NotFound, What: "the directory to measure in is not there", Do: "Make it, or name another with --dir.", Err: err}
	}
	return err
}
