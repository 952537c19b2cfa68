package auth

import (
	"time"

	"grainward/records"
)

// setBack is how far a clock may be set back before what it said until then is not believed any more: more than a clock is off
// that is kept right, and too little to matter.
const setBack = 5 * time.Minute

// ahead says that a moment that was kept lies in the future, which is to say that the clock was set back since.
func ahead(kept, now records.Instant) bool { return kept > now.Add(setBack) }

// unprolonged says that a note of something being used, which only saves its asker from being asked again too soon, could not be
// written because there is no room or nothing may be written: reading goes on all the same.
func unprolonged(err error) bool {
	k := records.KindOf(err)
	return err != nil && (k == records.Full || k == records.ReadOnly)
}
