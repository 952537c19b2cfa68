//go:build !unix

package yardstick

import (
	"errors"
	"os"
	"time"

	"grainward/records"
)

// processorTime is not asked for here: 0 leaves what rests on it out.
func processorTime() time.Duration { return 0 }

func usedBy(int) (cpu time.Duration, resident uint64, ok bool) { return 0, 0, false }

// onDisk says a missing directory in our words.
func onDisk(err error) error {
	if errors.Is(err, os.ErrNotExist) {
		return &records.Error{Kind: records.NotFound, What: "the directory to measure in is not there", Do: "Make it, or name another with --dir.", Err: err}
	}
	return err
}
